// Where the time goes: the stretches of feed motions without a rapid between them that take longest, and what
// is left. Rows of a setup add up to its time.
import type { About } from './data.ts';
import { clock, el, figure, table } from './dom.ts';
import { toLine, type Go } from './lists.ts';
import { toolWords } from './moment.ts';
import { Kind, type Motions } from './motions.ts';

const shown = 8;

export interface Stretch {
  first: number; // motions
  last: number;
  time: number; // s
  asked: number; // s, at the feed that is programmed
  removed: number; // mm3
}

export function stretchesOf(motions: Motions): Stretch[] {
  const all: Stretch[] = [];
  let now: Stretch | null = null;
  const removed = motions.of('removed_mm3');
  for (let m = 0; m < motions.count; m++) {
    if (motions.kind[m] === Kind.rapid) {
      now = null;
      continue;
    }
    if (!now || motions.tool[m] !== motions.tool[now.first])
      all.push((now = { first: m, last: m, time: 0, asked: 0, removed: 0 }));
    now.last = m;
    now.time += motions.timeS[m];
    now.asked += motions.feed[m] > 0 ? (60 * motions.length(m)) / motions.feed[m] : 0;
    now.removed += removed[m];
  }
  return all;
}

interface Row {
  what: string;
  stretch: Stretch | null;
  time: number;
}

function rowsOf(about: About, motions: Motions, total: number): Row[] {
  const all = stretchesOf(motions).sort((a, b) => b.time - a.time);
  const long = all.slice(0, shown),
    rest = all.slice(shown);
  const sum = (of: Stretch[]) => of.reduce((s, { time }) => s + time, 0);
  let rapids = 0;
  for (let m = 0; m < motions.count; m++)
    if (motions.kind[m] === Kind.rapid) rapids += motions.timeS[m];
  const rows: Row[] = long.map((stretch) => ({
    what: toolWords(about, motions.tool[stretch.first]),
    stretch,
    time: stretch.time,
  }));
  if (rest.length)
    rows.push({ what: `${rest.length} shorter stretches`, stretch: null, time: sum(rest) });
  rows.push({ what: 'rapids', stretch: null, time: rapids });
  rows.push({
    what: 'changes, spin-up, waits',
    stretch: null,
    time: Math.max(0, total - rapids - sum(all)),
  });
  return rows;
}

// Of a stretch that result.json tells of: those that take most of the whole job's time.
const toldOf = (about: About, s: number, of: Motions, x: Stretch | null) =>
  x &&
  about.time_use?.stretches.find(
    (t) =>
      t.setup === about.setups[s].name &&
      t.line === of.line[x.first] &&
      t.last_line === of.line[x.last],
  );

function savings(about: About): HTMLElement[] {
  const use = about.time_use;
  if (!use || !use.savings.length) return [];
  const number = true;
  return [
    table(
      `What would give time back: ${clock(use.saves_s)}, an estimate`,
      [
        { head: 'change', cell: (r) => r.text },
        { head: 'saves', number, cell: (r) => clock(r.saves_s) },
        { head: 'finish untouched', number, cell: (r) => clock(r.roughing_s) },
        { head: 'alone', number, cell: (r) => clock(r.alone_s) },
      ],
      use.savings,
    ),
    el(
      'p',
      { class: 'small' },
      'Each on top of those above it: no second is counted twice. Finish untouched: so much of it in moves that leave none of the surface that stays. Alone: were it the only one. Higher feeds and deeper cuts are rules of common practice and rough models: try one change at a time, and dry-run it again.',
    ),
  ];
}

export function timeTables(about: About, motions: Motions[], go: Go): HTMLElement[] {
  const number = true;
  return [
    el('h2', {}, 'Where the time goes'),
    el(
      'p',
      { class: 'small' },
      'Stretches of feed moves without a rapid between them, the longest first. At the feed: what they would take at the feed that is programmed. To see it on the path, colour the path by time or speed.',
    ),
    ...about.setups.map((setup, s) => {
      const of = motions[s];
      return table<Row>(
        `Setup ${setup.name}: where ${clock(setup.time_s)} go`,
        [
          { head: 'what', cell: (r) => r.what },
          {
            head: 'from',
            cell: ({ stretch: x }) =>
              x ? toLine(go, s, of.tool[x.first], of.line[x.first]) : '',
          },
          { head: 'to line', number, cell: ({ stretch: x }) => (x ? of.line[x.last] : '') },
          { head: 'time', number, cell: (r) => clock(r.time) },
          {
            head: 'of all',
            number,
            cell: (r) => `${figure((100 * r.time) / (setup.time_s || 1), 2)} %`,
          },
          { head: 'at the feed', number, cell: ({ stretch: x }) => (x ? clock(x.asked) : '') },
          { head: 'held by', cell: ({ stretch: x }) => toldOf(about, s, of, x)?.binds ?? '' },
          {
            head: 'could save',
            number,
            cell: ({ stretch: x }) => {
              const told = toldOf(about, s, of, x);
              const all = told ? Object.values(told.saves_s).reduce((a, b) => a + b, 0) : 0;
              return all >= 0.5 ? clock(all) : '';
            },
          },
          {
            head: 'removed cm³',
            number,
            cell: ({ stretch: x }) => (x ? figure(x.removed / 1000) : ''),
          },
        ],
        rowsOf(about, of, setup.time_s),
      );
    }),
    ...savings(about),
  ];
}

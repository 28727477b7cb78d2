// The page below the bench: findings, what was and was not checked, tables, charts.
import type { About, FinishLine, Finding, Grid, ToolRow } from './data.ts';
import { button, choice } from './controls.ts';
import { clock, clockRange, el, figure, plain, table, terms } from './dom.ts';
import { toolWords } from './moment.ts';
import { seamPictures } from './seam.ts';
import { levelColours } from './stage.ts';
import { stabilityChart, type Ink } from './strips.ts';

const glyphs: Record<string, string> = { error: '▲', warning: '◆', note: '●' };

function sign(level: string): HTMLElement {
  const mark = el('i', { class: 'sign-of', 'aria-hidden': 'true' }, glyphs[level] ?? '●');
  mark.style.setProperty('--level', levelColours[level] ?? 'grey');
  return mark;
}

const counted = (count: number, one: string) => `${count} ${one}${count === 1 ? '' : 's'}`;

export function head(about: About): HTMLElement[] {
  const tally = Object.keys(glyphs).map((level) =>
    el(
      'li',
      {},
      sign(level),
      ` ${counted(about.findings.filter((f) => f.level === level).length, level)}`,
    ),
  );
  const left = `${counted(about.not_checked.length, 'thing')} not checked`;
  const inch = about.setups.filter((s) => s.inches).map((s) => s.program);
  const units = inch.length
    ? `shown in mm; written in inches: ${inch.join(', ')}`
    : 'mm throughout';
  return [
    el(
      'div',
      { class: 'head-title' },
      el('p', { class: 'kicker' }, 'dry run of'),
      el('h1', {}, about.title),
    ),
    el(
      'div',
      { class: 'head-verdict' },
      el('p', { class: 'verdict' }, about.verdict),
      about.causes.length > 0 &&
        el(
          'ol',
          { class: 'causes' },
          ...about.causes.map((c) =>
            el(
              'li',
              {},
              `${c.text} (goes with ${c.explains} of the findings, ${c.remains} left). `,
              el('b', {}, `Do: ${c.remedy}.`),
            ),
          ),
        ),
      el('ul', { class: 'tally' }, ...tally, el('li', {}, el('a', { href: '#limits' }, left))),
    ),
    terms([...about.facts.map((f): [string, string] => [f.label, f.value]), ['lengths', units]], {
      class: 'facts',
    }),
  ];
}

export const madeBy = ({ version, made }: About) => `proveout ${version}${made ? `, ${made}` : ''}`;

// What this page is of: an old page or sheet can be told from a new one.
export function origin(about: About): HTMLElement {
  return el(
    'div',
    { class: 'origin small' },
    el('p', {}, madeBy(about)),
    about.inputs.length > 0 &&
      el(
        'ul',
        {},
        ...about.inputs.map((file) =>
          el('li', {}, `${file.name}: ${file.bytes} bytes, `, el('code', {}, file.digest)),
        ),
      ),
  );
}

const causeWords = (about: About, cause: number | undefined) =>
  cause === undefined ? 'none named' : `${cause + 1}. ${about.causes[cause].text}`;

// Findings of one kind and tool in a setup are one row: the worst speaks, the other places can be gone to.
function gathered(all: Finding[]): Finding[][] {
  const groups = new Map<string, Finding[]>();
  for (const f of all) {
    const key = [f.kind, f.level, f.setup, f.tool, f.kind === 'program' ? f.text : ''].join('|');
    groups.set(key, [...(groups.get(key) ?? []), f]);
  }
  return [...groups.values()];
}

function findingTable(about: About, groups: Finding[][], jump: (f: Finding) => void) {
  const go = (words: string, f: Finding) =>
    el('button', { type: 'button', class: 'jump', click: () => jump(f) }, words);
  const where = (f: Finding) => (f.line > 0 ? `${f.file} line ${f.line}` : f.file);
  const short = (f: Finding) =>
    `${f.line > 0 ? `line ${f.line}` : `X${figure(f.at[0], 4)} Y${figure(f.at[1], 4)}`}: ${figure(f.value)} ${f.unit}`;
  const number = true;
  return table<Finding[]>(
    'Findings, the worst first',
    [
      { head: 'level', cell: ([f]) => [sign(f.level), ` ${f.level}`] },
      {
        head: 'what',
        cell: (group) => {
          const motions = group.reduce((sum, g) => sum + g.count, 0);
          const { text, detail, remedy } = group[0];
          return [
            text,
            motions > 1 && el('span', { class: 'small' }, ` (${motions} motions)`),
            detail && el('span', { class: 'small' }, ` ${detail}`),
            el('p', { class: 'small' }, remedy),
          ];
        },
      },
      {
        head: 'where (goes there)',
        cell: (group) => {
          const f = group[0];
          return [
            f.setup >= 0 ? go(where(f) || `Setup ${about.setups[f.setup].name}`, f) : where(f),
            group.length > 1 &&
              el(
                'details',
                { class: 'others' },
                el('summary', {}, `this and ${group.length - 1} more`),
                ...group.map((g) => go(short(g), g)),
              ),
          ];
        },
      },
      { head: 'setup', cell: ([f]) => (f.setup >= 0 ? about.setups[f.setup].name : '-') },
      { head: 'tool', number, cell: ([f]) => (f.tool ? `T${f.tool}` : '-') },
      {
        head: 'value',
        number,
        cell: ([f]) => (f.unit || f.value ? `${figure(f.value)} ${f.unit}` : '-'),
      },
      { head: 'limit', number, cell: ([f]) => (f.limit ? `${figure(f.limit)} ${f.unit}` : '-') },
      { head: 'kind', cell: ([f]) => f.kind },
    ],
    groups,
  );
}

export function findings(about: About, jump: (f: Finding) => void): HTMLElement[] {
  const title = el('h2', {}, 'Findings');
  if (!about.findings.length)
    return [
      title,
      el('p', {}, 'None among the things that were checked. See below for what was not.'),
    ];
  // What can be chosen by, each with what it holds of a finding.
  const by: Record<string, (f: Finding) => string> = {
    level: (f) => f.level,
    kind: (f) => f.kind,
    setup: (f) => (f.setup >= 0 ? about.setups[f.setup].name : '-'),
    tool: (f) => (f.tool ? `T${f.tool}` : '-'),
    ...(about.causes.length > 0 && { cause: (f) => causeWords(about, f.cause) }),
  };
  const wanted: Record<string, string> = {};
  const holder = el('div', { class: 'findings' });
  const fill = () =>
    holder.replaceChildren(
      findingTable(
        about,
        gathered(
          about.findings.filter((f) =>
            Object.keys(by).every((k) => !wanted[k] || by[k](f) === wanted[k]),
          ),
        ),
        jump,
      ),
    );
  fill();
  const choices = Object.keys(by).map((key) => {
    const values = [...new Set(about.findings.map(by[key]))].sort();
    return choice(key, [['', 'every'], ...values.map((v): [string, string] => [v, v])], '', (v) => {
      wanted[key] = v;
      fill();
    });
  });
  return [title, el('div', { class: 'switches no-print' }, ...choices), holder];
}

export function limits(about: About): HTMLElement[] {
  const list = (title: string, items: { what: string; why: string }[], none: string) =>
    el(
      'div',
      {},
      el('h3', {}, title),
      items.length
        ? el(
            'ul',
            {},
            ...items.map((i) => el('li', {}, el('b', {}, i.what), i.why && `: ${i.why}`)),
          )
        : el('p', { class: 'small' }, none),
    );
  return [
    el('h2', {}, 'What this rests on'),
    el(
      'div',
      { class: 'columns' },
      list(
        'Not checked',
        about.not_checked,
        'Nothing was left out by choice; the machine itself is never checked.',
      ),
      list('Checked', about.checked, 'Nothing.'),
      list(
        'Taken for granted',
        about.assumed.map((what) => ({ what, why: '' })),
        'Nothing beyond the job file.',
      ),
    ),
    el(
      'p',
      { class: 'small' },
      'A dry run sees the program, not the machine: the manual, the rules of the place and a qualified person have the last word.',
    ),
  ];
}

// Stick-out given beside what is needed; less than needed is marked.
export function stickOut(row: ToolRow): (HTMLElement | string)[] {
  const { stickout: given, stickout_needed: needed } = row;
  if (!(needed > 0)) return [given > 0 ? `${plain(given)}, needed: not known` : '-'];
  const words = `${given > 0 ? plain(given) : '-'}, needs ${plain(Math.ceil(needed * 10) / 10)}`;
  return given > 0 && needed > given
    ? [sign('error'), el('b', { class: 'short' }, ` ${words}: too short`)]
    : [words];
}

// To a line of a tool's in a setup.
export type Go = (setup: number, tool: number, line: number) => void;
export const toLine = (go: Go, setup: number, tool: number, line: number) =>
  button(`line ${line}`, () => go(setup, tool, line), { class: 'jump' });

function setupTable(about: About, index: number, go: Go): HTMLElement {
  const setup = about.setups[index];
  const number = true;
  const name = { head: 'tool', cell: (r: ToolRow) => toolWords(about, r.number) };
  const time = (head: string, of: (r: ToolRow) => number) => ({
    head,
    number,
    cell: (r: ToolRow) => clock(of(r)),
  });
  const peak = (head: string, key: keyof ToolRow['peak']) => ({
    head,
    number,
    cell: (r: ToolRow) => figure(r.peak[key]),
  });
  const band = (head: string, low: keyof ToolRow['peak'], high: keyof ToolRow['peak']) => ({
    head,
    number,
    cell: ({ peak: p }: ToolRow) => (p[high] > 0 ? `${figure(p[low])} to ${figure(p[high])}` : '-'),
  });
  return el(
    'div',
    {},
    table(
      `Setup ${setup.name}: ${setup.program}, ${clockRange(setup)}, ${figure(setup.removed_mm3 / 1000)} cm³ removed`,
      [
        name,
        time('time', (r) => r.time_s),
        time('feed', (r) => r.feed_s),
        time('of it air', (r) => r.air_s),
        time('rapid', (r) => r.rapid_s),
        time('change, spin-up', (r) => r.change_s + r.spin_up_s),
        { head: 'moves', number, cell: (r) => r.moves },
        { head: 'removed cm³', number, cell: (r) => figure(r.removed_mm3 / 1000) },
      ],
      setup.tools,
    ),
    table(
      `Setup ${setup.name}: the largest of each tool in cuts, and what its body needs`,
      [
        name,
        peak('depth mm', 'axial_depth'),
        peak('width mm', 'radial_width'),
        peak('engaged °', 'engagement_deg'),
        peak('chip mm', 'chip_mm'),
        peak('force N', 'force_n'),
        band('band N', 'force_low_n', 'force_high_n'),
        peak('power W', 'power_w'),
        band('band W', 'power_low_w', 'power_high_w'),
        peak('bend mm', 'bend_mm'),
        {
          head: 'at',
          number,
          cell: (r) => (r.peak.line ? toLine(go, index, r.number, r.peak.line) : '-'),
        },
        { head: 'stick-out mm', number, cell: stickOut },
        { head: 'clear by at least mm', cell: (r) => r.clear_by || '-' },
      ],
      setup.tools,
    ),
  );
}

export function figures(about: About, go: Go): HTMLElement[] {
  return [
    el('h2', {}, 'Tools and setups'),
    el(
      'p',
      { class: 'small' },
      'Times: minutes and seconds, with the range of the machine. At: where the force is largest; what rapids run into is a finding, and not counted here. Band: the low and the high end of what is known of the material. Stick-out: as given, and the least that clears. Clear by: the least distance of shank and holder to stock, part and fixtures.',
    ),
    ...about.setups.map((_, i) => setupTable(about, i, go)),
  ];
}

function grid(data: Grid): HTMLElement {
  const columns = data.columns.map((head, i) => ({
    head,
    number: i > 0,
    cell: (row: string[]) => row[i] ?? '',
  }));
  return el(
    'div',
    {},
    table(data.title, columns, data.rows),
    data.note && el('p', { class: 'small' }, data.note),
  );
}

export function loads(about: About, ink: Ink, go: Go): HTMLElement[] {
  if (!about.stability.length) return [];
  return [
    el('h2', {}, 'Steady cutting'),
    el(
      'p',
      { class: 'small' },
      'Dot: the cut that comes nearest to the depth at which it may sing. Line and band: where that depth lies, likely and 8 in 10, learned from the cuts heard at the machine. Dashed: speeds at which teeth pass in step with the pitch heard.',
    ),
    el('div', { class: 'charts' }, ...about.stability.map((c) => stabilityChart(c, ink, toLine(go, c.setup, c.tool, c.line)))),
  ];
}

// What will have to be filed and sanded.
function finish(about: About, go: Go): HTMLElement[] {
  const { finish: f } = about;
  if (f && !f.looked_at)
    return [el('h2', {}, 'To file and sand'), el('p', { class: 'small' }, "Not looked at: that needs the part's mesh.")];
  if (!f || f.line_count === 0) return [];
  const number = true;
  const setupOf = (name: string) => about.setups.findIndex((s) => s.name === name);
  const places = (line: FinishLine) =>
    line.made_by.flatMap((m, i) => {
      const setup = setupOf(m.setup);
      const words = setup < 0 ? ['-'] : [toLine(go, setup, m.tool, m.line), ` of ${m.file}, T${m.tool}`];
      return i > 0 ? [' and ', ...words] : words;
    });
  return [
    el('h2', {}, 'To file and sand'),
    el(
      'p',
      { class: 'small' },
      `Cusps and steps that the motions leave: ${counted(f.line_count, 'line')}, ${figure(f.length)} mm in all, the highest ${figure(f.highest)} mm. Marks of runout, bending, chatter and burr are not in it.`,
    ),
    table(
      'Surface that stands above its valleys by more than a height',
      [
        { head: 'height mm', number, cell: (a) => plain(a.height) },
        { head: 'area mm²', number, cell: (a) => figure(a.area_mm2) },
      ],
      f.above,
    ),
    table<FinishLine>(
      `The longest lines${f.line_count > f.lines.length ? `, ${f.lines.length} of ${f.line_count}` : ''}`,
      [
        { head: 'between', cell: (l) => l.between + (l.step ? ' (step)' : '') },
        { head: 'length mm', number, cell: (l) => figure(l.length) },
        { head: 'height mm', number, cell: (l) => figure(l.height) },
        { head: 'made by (goes there)', cell: places },
        { head: 'highest at, on the stock', cell: (l) => `X${figure(l.at[0], 4)} Y${figure(l.at[1], 4)} Z${figure(l.at[2], 4)}` },
      ],
      f.lines,
    ),
  ];
}

export function more(about: About, go: Go): HTMLElement[] {
  const { flip } = about;
  const tables = (title: string, grids: Grid[] = []) =>
    grids.length ? [el('h2', {}, title), ...grids.map(grid)] : [];
  const seam = flip
    ? [
        el('h2', {}, 'Seam of the two sides'),
        el('p', {}, flip.text),
        terms(
          flip.facts.map((f): [string, string] => [f.label, f.value]),
          { class: 'facts' },
        ),
        ...seamPictures(flip),
      ]
    : [];
  return [
    ...seam,
    ...finish(about, go),
    ...tables('What holds the part', about.holding),
    ...tables('Side by side', about.comparisons),
    ...tables('Cost', about.quote),
    origin(about),
  ];
}

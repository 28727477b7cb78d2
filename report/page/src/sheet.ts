// The sheet for the machine: what the operator needs at the bench, on paper.
import type { About, Finding, Setup, ToolRow, Triple } from './data.ts';
import { button } from './controls.ts';
import { clock, clockRange, el, plain, table, terms, type Child } from './dom.ts';
import { drawings } from './drawing.ts';
import { madeBy, origin, stickOut } from './lists.ts';

const tick = () => el('span', { class: 'tick' });

// The worst error of each kind, setup and tool, and how many there are like it: a list that fits a
// sheet and leaves no kind out.
function worstOfEachKind(errors: Finding[]): string[] {
  const groups = new Map<string, { worst: Finding; places: number }>();
  for (const f of errors) {
    const key = `${f.kind} ${f.setup} ${f.tool}`;
    const group = groups.get(key);
    if (group) group.places += 1;
    else groups.set(key, { worst: f, places: 1 });
  }
  return [...groups.values()].map(({ worst, places }) => {
    const at = worst.line ? `${worst.file} line ${worst.line}: ` : '';
    return at + worst.text + (places > 1 ? ` (worst of ${places} places)` : '');
  });
}

// The ends of what there is of a figure.
function range(values: number[]): string {
  if (!values.length) return '-';
  const [low, high] = [Math.min(...values), Math.max(...values)].map((v) => plain(Math.round(v)));
  return low === high ? low : `${low} to ${high}`;
}
const heights = (p: Triple) => `X${plain(p[0])} Y${plain(p[1])} Z${plain(p[2])}`;

// A pocket that would hold the piece as earlier setups left it. Its walls may rise to the lowest place any tool's tip
// goes to, less a millimetre; its corners are relieved by the thinnest milling tool of the job (common
// practice, no source).
function pocket(about: About, setup: Setup, { low, high }: { low: Triple; high: Triple }): Child[] {
  const play = 0.1, // mm, all round
    clear = 1;
  const tips = setup.tools.flatMap((t) => (t.lowest === null ? [] : [t.lowest]));
  const deep = Math.floor(10 * (Math.min(high[2], ...tips) - clear - low[2])) / 10;
  const thin = Math.min(...about.tools.map((t) => t.diameter));
  const [x, y] = [0, 1].map((a) => (high[a] - low[a] + 2 * play).toFixed(2));
  if (!(deep > 0))
    return [`A pocket would not hold it: tips go down to Z ${plain(Math.min(...tips))}, its underside lies at Z ${plain(low[2])}`];
  return [
    `A pocket that would hold it: X ${x}, Y ${y} (${plain(play)} mm of play all round), at most ${plain(deep)} deep, ` +
      `which stays ${plain(clear)} mm below every tip; corners relieved with a tool of ${plain(thin)} mm or thinner`,
  ];
}

// Whether a milled face that carries the zero is what one meets first from outside, at the heights of the drawing's sections.
function milledFaces(setup: Setup): string[] {
  return [0, 1].flatMap((axis) => {
    const touches = setup.zero_touches.text.match(`${'xy'[axis]} at the (\\w+) face that earlier setups left,`);
    if (!touches || !setup.drawing) return [];
    const sign = /left|front/.test(touches[1]) ? 1 : -1;
    const at = setup.drawing.plan.map(({ at, contours }) => {
      let out = Infinity; // mm from the zero, inwards
      for (const contour of contours)
        for (let i = axis; i < contour.length; i += 2) out = Math.min(out, sign * contour[i]);
      const far = Math.abs(out).toFixed(2);
      return (
        `at Z ${plain(at)} ` +
        (Math.abs(out) < 0.1
          ? 'it is met first'
          : out < 0
            ? `a rim stands ${far} mm outside of it`
            : `it is missing, what is met first lies ${far} mm further in`)
      );
    });
    return [`${'XY'[axis]}0, the milled ${touches[1]} face: ${at.join('; ')}`];
  });
}

// To touch and to measure before this setup is started.
function toMeasure(about: About, setup: Setup): Child[][] {
  const gap = () => el('span', { class: 'gap' });
  const out: Child[][] = [];
  if (setup.drawing) {
    const { low, high } = setup.drawing;
    const sizes = low.flatMap((v, a) => [
      `${a ? ', ' : ' '}${'XYZ'[a]} `,
      gap(),
      ` (${(high[a] - v).toFixed(2)})`,
    ]);
    out.push(['Piece measured over all, mm:', ...sizes]);
  }
  if (setup.drawing) out.push(pocket(about, setup, setup.drawing));
  out.push([`Zero touched: ${setup.zero_touches.text.replace(/^zero: /, '')}`]);
  for (const words of milledFaces(setup)) out.push([words]);
  for (const { name, low, high } of setup.fixtures) {
    const spans = low.map((v, a) => `${'XYZ'[a]} ${plain(v)} to ${plain(high[a])}`);
    out.push([`${name} stands at ${spans.join(', ')}`]);
  }
  if (setup.tools.some((t) => t.first_at))
    out.push(['Each tool held where the table says it first stands: height above the work, mm, ', gap()]);
  return out;
}

function setupSheet(about: About, setup: Setup): HTMLElement {
  const number = true;
  const diameter = (r: ToolRow) => about.tools.find((t) => t.number === r.number)?.diameter ?? 0;
  // Held by a motion: a number of none is no tool.
  const order = (setup.tool_order ?? []).filter((number) => setup.tools.some((t) => t.number === number));
  const turned = setup.turns.map((t) => `turned ${plain(t.degrees)} degrees about ${t.about}`);
  return el(
    'section',
    { class: 'sheet-setup' },
    el('h2', {}, `Setup ${setup.name}: ${setup.program}, ${clockRange(setup)}`),
    el(
      'div',
      { class: 'sheet-row' },
      drawings(about, setup),
      terms([
        ['Work lies', turned.join(', then ') || 'as it was measured, not turned'],
        ['Zero in stock coordinates', setup.zero_in_stock.map(plain).join(', ')],
        ['Put down against', setup.located_by],
        ['Lengths', setup.inches ? 'the program is written in inches; this sheet is in mm' : 'mm'],
      ]),
    ),
    table<ToolRow>(
      `Setup ${setup.name}: tools in order`,
      [
        { head: 'no.', cell: (_, i) => i + 1 },
        { head: 'tool', cell: (r) => `T${r.number}` },
        { head: 'name', cell: (r) => about.tools.find((t) => t.number === r.number)?.name ?? '' },
        { head: 'dia. mm', number, cell: (r) => plain(diameter(r)) },
        { head: 'stick-out mm', number, cell: stickOut },
        { head: 'spindle 1/min', number, cell: (r) => range(r.speeds) },
        { head: 'feed mm/min', number, cell: (r) => range(r.feeds) },
        { head: 'first stands at', cell: (r) => (r.first_at ? heights(r.first_at) : '-') },
        { head: 'down to Z', number, cell: (r) => (r.lowest === null ? '-' : plain(r.lowest)) },
        { head: 'time', number, cell: (r) => clock(r.time_s) },
        { head: 'loaded', cell: tick },
      ],
      setup.tools,
    ),
    order.length > setup.tools.length &&
      el('p', {}, el('b', {}, 'A tool comes back. '), `One after the other: ${order.map((n) => `T${n}`).join(', ')}.`),
    boxes('To touch and measure', toMeasure(about, setup)),
    about.cautions.length > 0 && el('p', {}, el('b', {}, 'Take care. '), about.cautions.join(' ')),
    // Each page can be told from an old one by itself.
    el(
      'p',
      { class: 'small' },
      `${madeBy(about)}. ${about.inputs
        .filter(({ name }) => setup.files.some((file) => file.name === name) || name === setup.program)
        .map(({ name, digest }) => `${name}: ${digest}`)
        .join(', ')}`,
    ),
  );
}

const boxes = (title: string, items: Child[][]) =>
  el(
    'section',
    {},
    el('h3', {}, title),
    el('ul', { class: 'boxes' }, ...items.map((i) => el('li', {}, tick(), ...i))),
  );

export function sheet(about: About): HTMLElement[] {
  const listed = (title: string, items: string[], box: boolean) =>
    items.length > 0 &&
    el(
      'section',
      {},
      el('h2', {}, title),
      el('ul', { class: box ? 'boxes' : '' }, ...items.map((i) => el('li', {}, box && tick(), i))),
    );
  const errors = about.findings.filter((f) => f.level === 'error');
  const marked = 'Left, front, top corner of the blank marked before it is first clamped';
  const parts = [
    el(
      'div',
      { class: 'sheet-head' },
      el('h1', {}, `At the machine: ${about.title}`),
      el('p', {}, about.verdict),
      about.causes.length > 0 &&
        el('ol', {}, ...about.causes.map((c) => el('li', {}, `${c.text}. Do: ${c.remedy}.`))),
      el('p', { class: 'small' }, about.facts.map((f) => `${f.label} ${f.value}`).join(' · ')),
      button('Print this sheet', () => window.print(), { class: 'no-print' }),
    ),
    ...about.setups.map((setup) => setupSheet(about, setup)),
    listed('Errors found, to settle first', worstOfEachKind(errors), true),
    listed('To check by hand', [marked, ...about.by_hand], true),
    listed(
      'Not checked by the dry run',
      about.not_checked.map((s) => s.what + (s.why ? `: ${s.why}` : '')),
      false,
    ),
    el(
      'p',
      { class: 'sign' },
      'Checked by ____________________   Date ____________   Machine ____________________',
    ),
    origin(about),
  ];
  return parts.filter((p) => p !== false);
}

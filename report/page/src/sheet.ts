// The sheet for the machine: what the operator needs at the bench, on paper.
import type { About, Finding, Setup, Triple } from './data.ts';
import { clock, el, figure, plain, svg } from './dom.ts';
import { setupFromStock } from './scene_data.ts';

// Parallel projection that keeps upright edges upright: x to the right, y up and away, z up.
const flat = ([x, y, z]: Triple): [number, number] => [
  x * 0.9 + y * 0.42,
  -(z + y * 0.36 - x * 0.12),
];

function sketch(about: About, setup: Setup, flipped: boolean): SVGElement {
  const corners: Triple[] = [];
  for (let k = 0; k < 8; k++)
    corners.push(
      setupFromStock(
        setup,
        [0, 1, 2].map((a) => ((k >> a) & 1 ? about.stock_size[a] : 0)),
      ),
    );
  const low = [0, 1, 2].map((a) => Math.min(...corners.map((c) => c[a]))) as Triple;
  const high = [0, 1, 2].map((a) => Math.max(...corners.map((c) => c[a]))) as Triple;
  const at = (k: number): Triple =>
    [0, 1, 2].map((a) => ((k >> a) & 1 ? high[a] : low[a])) as Triple;
  const line = (a: Triple, b: Triple, name: string) => {
    const p = flat(a),
      q = flat(b);
    return svg('line', { x1: p[0], y1: p[1], x2: q[0], y2: q[1], class: name });
  };
  const size = Math.max(...high.map((v, a) => v - low[a]));
  const edges: SVGElement[] = [];
  for (let k = 0; k < 8; k++)
    for (let a = 0; a < 3; a++) {
      const other = k | (1 << a);
      // Corner 2 (left, back, bottom) is hidden behind the block.
      if (other !== k)
        edges.push(line(at(k), at(other), k === 2 || other === 2 ? 'hidden' : 'edge'));
    }
  const text = (p: Triple, words: string, dx = 0, dy = 0) => {
    const q = flat(p);
    return svg(
      'text',
      { x: q[0] + dx, y: q[1] + dy, 'font-size': size / 18, 'text-anchor': 'middle' },
      words,
    );
  };
  const zero: Triple = [0, 0, 0],
    reach = size / 5;
  const axes = (
    [
      ['X', [reach, 0, 0]],
      ['Y', [0, reach, 0]],
      ['Z', [0, 0, reach]],
    ] as [string, Triple][]
  ).flatMap(([name, end]) => [
    line(zero, end, 'axis'),
    text(end.map((v) => v * 1.18) as Triple, name),
  ]);
  const [zx, zy] = flat(zero);
  const dims = [
    text([(low[0] + high[0]) / 2, low[1], low[2]], plain(high[0] - low[0]), 0, size / 14),
    text([high[0], (low[1] + high[1]) / 2, low[2]], plain(high[1] - low[1]), size / 12, size / 24),
    text([low[0], low[1], (low[2] + high[2]) / 2], plain(high[2] - low[2]), -size / 16, 0),
  ];
  const arrow: SVGElement[] = [];
  if (flipped) {
    const [cx, cy] = flat([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, high[2]]),
      r = size / 8;
    arrow.push(
      svg('path', {
        d: `M${cx - r} ${cy - r * 0.4}a${r} ${r} 0 1 1 ${2 * r} 0l${-r * 0.45} ${-r * 0.2}m${r * 0.45} ${r * 0.2}l${r * 0.22} ${-r * 0.42}`,
        class: 'flip',
      }),
      svg(
        'text',
        { x: cx, y: cy - r * 1.55, 'font-size': size / 18, 'text-anchor': 'middle' },
        'turned',
      ),
    );
  }
  const all = [
    ...corners.map(flat),
    flat([reach * 1.3, 0, 0]),
    flat([0, reach * 1.3, 0]),
    flat([0, 0, reach * 1.3]),
  ];
  const x0 = Math.min(...all.map((p) => p[0])),
    x1 = Math.max(...all.map((p) => p[0]));
  const y0 = Math.min(...all.map((p) => p[1])),
    y1 = Math.max(...all.map((p) => p[1])),
    m = size / 5.5;
  return svg(
    'svg',
    {
      viewBox: `${x0 - m} ${y0 - m} ${x1 - x0 + 2 * m} ${y1 - y0 + 2 * m}`,
      class: 'sketch',
      role: 'img',
      'aria-label': `Stock in setup ${setup.name} with its zero`,
    },
    ...edges,
    ...axes,
    svg('circle', { cx: zx, cy: zy, r: size / 70, class: 'zero' }),
    ...dims,
    ...arrow,
  );
}

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
    const more = places > 1 ? ` (worst of ${places} places)` : '';
    return at + worst.text + more;
  });
}

export function sheet(about: About): HTMLElement[] {
  const order = about.setups.map((setup) => {
    const rows = setup.tools.map((row, i) => {
      const tool = about.tools.find((t) => t.number === row.number);
      return el(
        'tr',
        {},
        el('td', {}, i + 1),
        el('td', {}, `T${row.number}`),
        el('td', {}, tool?.name ?? ''),
        el('td', { class: 'n' }, tool && tool.stickout > 0 ? plain(tool.stickout) : '-'),
        el('td', { class: 'n' }, row.stickout_needed > 0 ? figure(row.stickout_needed) : '-'),
        el('td', {}, row.speeds),
        el('td', { class: 'n' }, clock(row.time_s)),
        el('td', {}, el('span', { class: 'tick' })),
      );
    });
    const heads = ['', 'tool', 'name', 'stick-out mm', 'needed mm', 'spindle', 'time', 'loaded'];
    return el(
      'section',
      { class: 'sheet-setup' },
      el('h3', {}, `Setup ${setup.name}: ${setup.program}, ${clock(setup.time_s)}`),
      el(
        'div',
        { class: 'sheet-row' },
        el('div', { class: 'sheet-sketch' }, sketch(about, setup, setup.turn_in_words !== '')),
        el(
          'dl',
          {},
          el('dt', {}, 'Work lies'),
          el('dd', {}, setup.turn_in_words || 'as it was measured, not turned'),
          el('dt', {}, 'Zero'),
          el('dd', {}, setup.zero_in_words.replace(/^zero: /, '')),
          el('dt', {}, 'Zero in stock coordinates'),
          el('dd', {}, setup.zero_in_stock.map(plain).join(', ')),
          setup.located_by && el('dt', {}, 'Put down against'),
          setup.located_by && el('dd', {}, setup.located_by),
        ),
      ),
      el(
        'div',
        { class: 'wide' },
        el(
          'table',
          {},
          el('thead', {}, el('tr', {}, ...heads.map((h) => el('th', { scope: 'col' }, h)))),
          el('tbody', {}, ...rows),
        ),
      ),
    );
  });
  const listed = (title: string, items: string[], box: boolean) =>
    items.length
      ? el(
          'section',
          {},
          el('h3', {}, title),
          el(
            'ul',
            { class: box ? 'boxes' : '' },
            ...items.map((i) => el('li', {}, box && el('span', { class: 'tick' }), i)),
          ),
        )
      : null;
  const worst = worstOfEachKind(about.findings.filter((f) => f.level === 'error'));
  const parts: (HTMLElement | null)[] = [
    el(
      'div',
      { class: 'sheet-head' },
      el('h2', {}, `At the machine: ${about.title}`),
      el('p', {}, about.verdict),
      el('p', { class: 'small' }, about.facts.map((f) => `${f.label} ${f.value}`).join(' · ')),
      el(
        'button',
        { type: 'button', class: 'no-print', click: () => window.print() },
        'Print this sheet',
      ),
    ),
    ...order,
    listed('Errors found, to settle first', worst, true),
    listed('To check by hand', about.by_hand, true),
    listed('Take care', about.cautions, false),
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
  ];
  return parts.filter((p) => p !== null);
}

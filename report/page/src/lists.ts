// The page below the bench: findings, what was and was not checked, tables, charts.
import type { About, Finding, Grid, Setup, ToolRow } from './data.ts';
import { clock, el, figure, table } from './dom.ts';
import { seamPictures } from './seam.ts';
import { levelColours } from './stage.ts';
import { stabilityChart, type Ink } from './strips.ts';

const glyphs: Record<string, string> = { error: '▲', warning: '◆', note: '●' };

export function badge(level: string): HTMLElement {
  const mark = el(
    'span',
    { class: 'badge' },
    el('i', { 'aria-hidden': 'true' }, glyphs[level] ?? '●'),
    ` ${level}`,
  );
  mark.style.setProperty('--level', levelColours[level] ?? 'grey');
  return mark;
}

export function head(about: About): HTMLElement[] {
  const tally = (count: number, one: string, many: string, level: string) =>
    el('li', {}, badge(level).firstChild, ` ${count} ${count === 1 ? one : many}`);
  const list = el(
    'ul',
    { class: 'tally' },
    tally(about.errors, 'error', 'errors', 'error'),
    tally(about.warnings, 'warning', 'warnings', 'warning'),
    tally(about.notes, 'note', 'notes', 'note'),
    el(
      'li',
      {},
      el(
        'a',
        { href: '#limits' },
        `${about.not_checked.length} ${about.not_checked.length === 1 ? 'thing' : 'things'} not checked`,
      ),
    ),
  );
  for (const item of list.querySelectorAll('li')) {
    const i = item.querySelector('i');
    if (i)
      i.style.color = levelColours[['error', 'warning', 'note'][[...list.children].indexOf(item)]];
  }
  return [
    el(
      'div',
      { class: 'head-title' },
      el('p', { class: 'kicker' }, 'dry run of'),
      el('h1', {}, about.title),
    ),
    el('div', { class: 'head-verdict' }, el('p', { class: 'verdict' }, about.verdict), list),
    el(
      'dl',
      { class: 'facts' },
      ...about.facts.map((f) => el('div', {}, el('dt', {}, f.label), el('dd', {}, f.value))),
    ),
  ];
}

// Findings of one kind and tool in a setup are one row: the worst speaks, the other places can be gone to.
function gathered(all: Finding[]): Finding[][] {
  const groups = new Map<string, Finding[]>();
  for (const f of all) {
    const key = [f.kind, f.level, f.setup, f.tool, f.kind === 'program' ? f.text : ''].join('|');
    const group = groups.get(key);
    if (group) group.push(f);
    else groups.set(key, [f]);
  }
  return [...groups.values()];
}

function row(about: About, group: Finding[], jump: (f: Finding) => void): HTMLElement {
  const f = group[0],
    where = f.line > 0 ? `${f.file} line ${f.line}` : f.file;
  const button = (words: string, finding: Finding) =>
    el('button', { type: 'button', class: 'jump', click: () => jump(finding) }, words);
  const place = f.setup >= 0 ? button(where || `Setup ${about.setups[f.setup].name}`, f) : where;
  const motions = group.reduce((sum, g) => sum + g.count, 0);
  const others =
    group.length > 1 &&
    el(
      'details',
      { class: 'others' },
      el('summary', {}, `this and ${group.length - 1} more`),
      ...group.map((g) =>
        button(
          `${g.line > 0 ? `line ${g.line}` : `X${figure(g.at[0], 4)} Y${figure(g.at[1], 4)}`}: ${figure(g.value)} ${g.unit}`,
          g,
        ),
      ),
    );
  return el(
    'tr',
    {},
    el('td', {}, badge(f.level)),
    el(
      'td',
      {},
      f.text,
      motions > 1 && el('span', { class: 'small' }, ` (${motions} motions)`),
      f.detail && el('span', { class: 'small' }, ` ${f.detail}`),
    ),
    el('td', {}, place, others),
    el('td', {}, f.setup >= 0 ? about.setups[f.setup].name : '-'),
    el('td', { class: 'n' }, f.tool ? `T${f.tool}` : '-'),
    el('td', { class: 'n' }, f.unit || f.value ? `${figure(f.value)} ${f.unit}` : '-'),
    el('td', { class: 'n' }, f.limit ? `${figure(f.limit)} ${f.unit}` : '-'),
    el('td', {}, f.kind),
  );
}

export function findings(about: About, jump: (f: Finding) => void): HTMLElement[] {
  if (!about.findings.length)
    return [
      el('h2', {}, 'Findings'),
      el('p', {}, 'None among the things that were checked. See below for what was not.'),
    ];
  const groups = gathered(about.findings);
  const kinds = [...new Set(about.findings.map((f) => f.kind))].sort();
  const body = el('tbody');
  const fill = (kind: string) =>
    body.replaceChildren(
      ...groups.filter((g) => !kind || g[0].kind === kind).map((g) => row(about, g, jump)),
    );
  const select = el(
    'select',
    { change: () => fill(select.value) },
    el('option', { value: '' }, 'every kind'),
    ...kinds.map((k) => el('option', { value: k }, k)),
  );
  fill('');
  const heads = ['level', 'what', 'where (goes there)', 'setup', 'tool', 'value', 'limit', 'kind'];
  return [
    el('h2', {}, 'Findings'),
    el('label', { class: 'field' }, el('span', {}, 'Show'), select),
    el(
      'div',
      { class: 'wide', tabindex: 0, role: 'region', 'aria-label': 'Findings' },
      el(
        'table',
        { class: 'findings' },
        el('thead', {}, el('tr', {}, ...heads.map((h) => el('th', { scope: 'col' }, h)))),
        body,
      ),
    ),
  ];
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
      list('Taken for granted', about.assumed, 'Nothing beyond the job file.'),
    ),
    el(
      'p',
      { class: 'small' },
      'A dry run sees the program, not the machine: the manual, the rules of the place and a qualified person have the last word.',
    ),
  ];
}

function band([low, high]: [number, number]): string {
  return high > 0 ? `${figure(low)} to ${figure(high)}` : '-';
}

function setupTable(about: About, setup: Setup): HTMLElement {
  const tool = (n: number) => about.tools.find((t) => t.number === n);
  const depthLeft = (row: ToolRow) => {
    const given = tool(row.number)?.stickout ?? 0;
    if (!(row.stickout_needed > 0)) return '-';
    return given > 0
      ? `${figure(row.stickout_needed)} of ${figure(given)}`
      : figure(row.stickout_needed);
  };
  const n = true;
  const name = { head: 'tool', cell: (r: ToolRow) => `T${r.number} ${tool(r.number)?.name ?? ''}` };
  return el(
    'div',
    {},
    table(
      `Setup ${setup.name}: ${setup.program}, ${clock(setup.time_s)}, ${figure(setup.removed_mm3 / 1000)} cm³ removed`,
      [
        name,
        { head: 'time', number: n, cell: (r) => clock(r.time_s) },
        { head: 'feed', number: n, cell: (r) => clock(r.feed_s) },
        { head: 'of it air', number: n, cell: (r) => clock(r.air_s) },
        { head: 'rapid', number: n, cell: (r) => clock(r.rapid_s) },
        { head: 'change, spin-up', number: n, cell: (r) => clock(r.change_s + r.spin_up_s) },
        { head: 'moves', number: n, cell: (r) => r.moves },
        { head: 'removed cm³', number: n, cell: (r) => figure(r.removed_mm3 / 1000) },
      ],
      setup.tools,
    ),
    table(
      `Setup ${setup.name}: the largest of each tool, and what its body needs`,
      [
        name,
        { head: 'depth mm', number: n, cell: (r) => figure(r.peak.axial_depth) },
        { head: 'width mm', number: n, cell: (r) => figure(r.peak.radial_width) },
        { head: 'engaged °', number: n, cell: (r) => figure(r.peak.engagement_deg) },
        { head: 'chip mm', number: n, cell: (r) => figure(r.peak.chip_mm) },
        { head: 'force N', number: n, cell: (r) => figure(r.peak.force_n) },
        { head: 'band N', number: n, cell: (r) => band(r.peak.force_band_n) },
        { head: 'power W', number: n, cell: (r) => figure(r.peak.power_w) },
        { head: 'band W', number: n, cell: (r) => band(r.peak.power_band_w) },
        { head: 'bend mm', number: n, cell: (r) => figure(r.peak.bend_mm) },
        { head: 'at line', number: n, cell: (r) => r.peak.line || '-' },
        { head: 'stick-out mm', number: n, cell: depthLeft },
        { head: 'clear by at least mm', cell: (r) => r.clear_by || '-' },
      ],
      setup.tools,
    ),
  );
}

export function figures(about: About): HTMLElement[] {
  return [
    el('h2', {}, 'Tools and setups'),
    el(
      'p',
      { class: 'small' },
      'At line: where the force is largest. Band: the low and the high end of what is known of the material. Stick-out: the least that clears, of what is given. Clear by: the least distance of shank and holder to stock, part and fixtures.',
    ),
    ...about.setups.map((s) => setupTable(about, s)),
  ];
}

function grid(data: Grid): HTMLElement {
  return el(
    'div',
    {},
    table(
      data.title,
      data.columns.map((c, i) => ({
        head: c,
        number: i > 0,
        cell: (row: string[]) => row[i] ?? '',
      })),
      data.rows,
    ),
    data.note && el('p', { class: 'small' }, data.note),
  );
}

export function loads(about: About, ink: Ink): HTMLElement[] {
  if (!about.stability.length) return [];
  return [
    el('h2', {}, 'Steady cutting'),
    el(
      'p',
      { class: 'small' },
      'Line: the depth below which the tool is expected to run without chatter at each speed. Dots: what the program asks for.',
    ),
    el('div', { class: 'charts' }, ...about.stability.map((c) => stabilityChart(c, ink))),
  ];
}

export function more(about: About): HTMLElement[] {
  const out: HTMLElement[] = [];
  if (about.flip) {
    const { text, facts } = about.flip;
    out.push(
      el('h2', {}, 'Seam of the two sides'),
      el('p', {}, text),
      el(
        'dl',
        { class: 'facts' },
        ...facts.map((f) => el('div', {}, el('dt', {}, f.label), el('dd', {}, f.value))),
      ),
    );
    out.push(...seamPictures(about.flip));
  }
  if (about.holding.length)
    out.push(el('h2', {}, 'What holds the part'), ...about.holding.map(grid));
  if (about.comparisons.length)
    out.push(el('h2', {}, 'Side by side'), ...about.comparisons.map(grid));
  if (about.quote.length) out.push(el('h2', {}, 'Cost'), ...about.quote.map(grid));
  return out;
}

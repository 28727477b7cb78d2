// The job file as text and as a form, side by side: two views of one text. Each change is read by the engine, and what
// it says stands at its line and at its field.
import { byId, el } from '../../page/src/dom';
import { changed, fill, jobName, jobText, setJobText, start, state } from './app';
import { located, outFolder, type Located, type Run } from './engine';
import { text as textOf } from './files';
import { isText, readJobText, shownValue, typedValue, withKey, withoutMark, withTable, withValue, type Field, type JobText, type Mark, type Table } from './job_text';
import { drawLayout, type Layout } from './layout_view';
import { save } from './save';

type Keys = Record<string, [type: string, meaning: string]>;
const keys = JSON.parse(byId('keys').textContent ?? '{}') as Keys;

let shownJob = '';
let shownText = '';
let found: Located[] = [];
let layout: Layout | undefined; // of the text as it was last read without a mistake
let check: Run | undefined;
let waiting = 0;

const layoutNote =
  'Blank, part, clamps and supports (dotted), feeds, and rapids (dashed), from above and from the front. Drag the zero, a clamp, a support or one of its edges: each change is written into the text of the job. The picture is no check: tools are lines here.';

const textArea = () => byId('job-text') as HTMLTextAreaElement;

export function showJob(): void {
  const place = byId('job');
  place.hidden = state.job === '';
  if (place.hidden) {
    shownJob = '';
    return;
  }
  if (shownJob !== state.job) draw(place);
  if (shownJob !== state.job || shownText !== jobText()) {
    shownJob = state.job;
    textArea().value = jobText();
    refresh();
  }
}

function draw(place: HTMLElement): void {
  place.tabIndex = -1;
  found = [];
  layout = undefined;
  place.replaceChildren(
    el('h2', { id: 'job-title' }, `Job: ${state.job}`),
    el('pre', { id: 'job-note', class: 'small' }),
    el('h3', { id: 'layout-title', hidden: true }, 'How it lies, before anything is cut'),
    el('p', { id: 'layout-note', class: 'small', hidden: true }),
    el('div', { id: 'layout' }),
    el(
      'div',
      { class: 'two' },
      el('div', {}, el('h3', { id: 'form-title' }, 'Values'), el('div', { id: 'job-form' })),
      el(
        'div',
        { class: 'text-side' },
        el('h3', {}, el('label', { for: 'job-text' }, 'The same as text')),
        el('div', { class: 'editor' }, el('pre', { id: 'job-lines', 'aria-hidden': 'true' }), el('textarea', { id: 'job-text', spellcheck: 'false', autocomplete: 'off', autocapitalize: 'off', wrap: 'off', input: () => typed(), scroll: () => follow() })),
        el('div', { id: 'job-said', role: 'status' }),
        el('div', { class: 'row' }, el('button', { type: 'button', click: () => save(jobName(), new TextEncoder().encode(jobText())) }, 'Save the job file')),
      ),
    ),
  );
}

function follow(): void {
  byId('job-lines').scrollTop = textArea().scrollTop;
}

function typed(): void {
  setJobText(textArea().value);
  refresh();
}

// A change from the form.
function put(text: string): void {
  const kept = document.activeElement?.id;
  setJobText(text);
  textArea().value = text;
  refresh();
  if (kept) document.getElementById(kept)?.focus();
}

function refresh(): void {
  shownText = jobText();
  drawForm();
  drawLines();
  window.clearTimeout(waiting);
  waiting = window.setTimeout(() => void look(), 500);
}

// Reads the job without cutting; tells what it would take, or what is wrong.
async function look(): Promise<void> {
  check?.stop();
  const of = state.job;
  const text = shownText;
  byId('job-said').textContent = 'Reading the job';
  const run = (check = start(['run', jobName(), '--forecast', '--layout', `${outFolder}/layout.json`], of));
  const ended = await run.ended;
  if (run !== check || of !== state.job || text !== jobText()) return;
  check = undefined;
  found = located(ended.said);
  const other = ended.said.filter((s) => !s.error && s.text.trim());
  const wrong = found.filter((m) => m.level === 'error');
  fill(
    byId('job-said'),
    wrong.length === 0 ? el('p', {}, other.map((s) => s.text).join(' ') || ended.said.map((s) => s.text).join(' ')) : el('p', { class: 'bad' }, `${wrong.length === 1 ? 'One mistake' : `${wrong.length} mistakes`}: the job cannot run as it is.`),
    el('ul', {}, ...found.slice(0, 60).map((m) => el('li', { class: m.level }, placeButton(m), ' ', `${m.level}: ${m.what}`))),
    wrong.length > 0 && el('details', {}, el('summary', {}, 'The messages in full'), el('pre', { tabindex: 0, 'aria-label': 'Messages' }, ended.said.map((s) => s.text).join('\n'))),
  );
  const drawn = ended.files.get('layout.json');
  if (drawn) layout = JSON.parse(textOf(drawn)) as Layout;
  showLayout(drawn === undefined);
  byId('job').dataset.looked = String(ended.status);
  drawForm();
  drawLines();
}

// The picture of the text as it was last read; stale where it has mistakes since.
function showLayout(stale: boolean): void {
  const place = byId('layout');
  for (const id of ['layout-title', 'layout-note']) byId(id).hidden = !layout;
  place.classList.toggle('stale', stale);
  if (stale && layout) return byId('layout-note').replaceChildren('The picture shows the job as it was before the mistake.');
  byId('layout-note').replaceChildren(layoutNote);
  const kept = document.activeElement?.getAttribute('aria-label');
  const inside = place.contains(document.activeElement);
  place.replaceChildren(...(layout ? drawLayout(layout, (change) => put(change(jobText()))) : []));
  if (inside && kept) place.querySelector<HTMLElement>(`[aria-label="${CSS.escape(kept)}"]`)?.focus();
}

const ofJob = (m: Located) => m.line > 0 && (m.file === jobName() || m.file === `./${jobName()}`);

function placeButton(m: Located): Node {
  const words = `${m.file}${m.line ? `, line ${m.line}` : ''}${m.column ? `, column ${m.column}` : ''}`;
  if (!ofJob(m)) return document.createTextNode(words);
  return el('button', { type: 'button', click: () => goTo(m.line, m.column) }, words);
}

function goTo(line: number, column: number): void {
  const area = textArea();
  const lines = area.value.split('\n');
  const start = lines.slice(0, line - 1).reduce((sum, l) => sum + l.length + 1, 0);
  area.focus();
  area.setSelectionRange(start + Math.max(0, column - 1), start + (lines[line - 1] ?? '').length);
  area.scrollTop = Math.max(0, (line - 6) * 18);
}

function drawLines(): void {
  const wrong = new Map(found.filter(ofJob).map((m) => [m.line, m.level]));
  byId('job-lines').replaceChildren(
    ...jobText()
      .split('\n')
      .map((_, i) => el('span', { class: wrong.get(i + 1) ?? '' }, `${i + 1}\n`)),
  );
  follow();
}

// ---- the form

const unitOf = (type: string): string => {
  const inch = /^\s*units\s*=\s*"inch"/m.test(shownText);
  if (type === 'length' || type === 'three numbers' || type === 'two corners') return inch ? 'in' : 'mm';
  return type === 'feed' ? (inch ? 'in/min' : 'mm/min') : '';
};

function tableTitle(read: JobText, table: string, nth: number): string {
  if (!table) return 'The job';
  const here = read.tables.find((t) => t.table === table && t.nth === nth);
  const first = table.split('.')[0];
  const beside = read.tables.filter((t) => t.table === table && (table === first || t.top === here?.top));
  const place = beside.findIndex((t) => t.nth === nth) + 1;
  const counted = (words: string, by: string) => (beside.length > 1 || /^(tools|setups)$/.test(table) ? `${words.replace(/s$/, '')} ${by}` : words);
  if (table !== first) return `${here && read.tables.some((t) => t.table === first) ? tableTitle(read, first, here.top) : first}, ${counted(table.slice(first.length + 1), String(place))}`;
  const of = (key: string) => read.fields.find((f) => f.table === table && f.nth === nth && f.key === key);
  const word = counted(table, of('number')?.value ?? String(place));
  const name = of('name') ? shownValue(of('name')!.value) : '';
  return name ? `${word}: ${name}` : word;
}

const kindOfKey = (f: Field): [string, string] =>
  keys[f.table ? `${f.table}.${f.key}` : f.key] ?? keys[`${f.table.replace(/\.[^.]+$/, '.NAME')}.${f.key}`] ?? ['', ''];

// What the engine says of each value: by line, and where values share one, by column.
let told = new Map<Field, Located[]>();
function tell(read: JobText): void {
  told = new Map();
  const text = shownText;
  const starts = [0, ...[...text.matchAll(/\n/g)].map((m) => m.index! + 1)];
  for (const m of found.filter(ofJob)) {
    const leaves = read.fields.filter((f) => !f.apart && m.line - 1 >= f.line && m.line - 1 <= f.line + f.value.split('\n').length - 1);
    const at = (starts[m.line - 1] ?? 0) + m.column - 1;
    const exact = leaves.filter((f) => m.column > 0 && at >= Math.max(starts[f.line], text.lastIndexOf(f.key, f.from)) && at <= f.to);
    for (const f of exact.length > 0 ? exact : leaves) told.set(f, [...(told.get(f) ?? []), m]);
  }
}
const isWrong = (f: Field): boolean => (told.get(f) ?? []).some((m) => m.level === 'error');

function control(f: Field, id: string): HTMLElement {
  const [type] = kindOfKey(f);
  const change = (value: string) => put(withValue(jobText(), f, typedValue(value, isText(f.value)), true));
  const listener = (e: Event) => change((e.target as HTMLInputElement).value);
  const choices = type === 'true or false' ? ['true', 'false'] : / \| /.test(type) ? type.split(' | ') : [];
  const now = shownValue(f.value);
  const described = { id, 'aria-describedby': `${id}-about`, 'aria-invalid': isWrong(f) ? 'true' : 'false', change: listener };
  if (choices.length > 0 && choices.includes(now))
    return el('select', described, ...choices.map((c) => el('option', { value: c, selected: c === now }, c)));
  if (now.includes('\n')) return el('textarea', { ...described, rows: Math.min(12, now.split('\n').length), spellcheck: 'false', autocomplete: 'off' }, now);
  return el('input', { ...described, value: now, autocomplete: 'off', spellcheck: 'false' });
}

function row(read: JobText, f: Field, withTable: boolean): HTMLElement {
  const id = `value-${f.table}-${f.nth}-${f.key}`.replace(/[^A-Za-z0-9_-]/g, '_') + (withTable ? '-open' : '');
  const [type, meaning] = kindOfKey(f);
  const unit = unitOf(type);
  return el(
    'div',
    { class: f.mark ? 'value unknown' : 'value' },
    el('label', { for: id }, withTable ? `${tableTitle(read, f.table, f.nth)}, ${f.key}` : f.key, unit && el('span', { class: 'unit' }, ` ${unit}`)),
    control(f, id),
    f.mark && el('button', { type: 'button', id: `${id}-known`, 'aria-label': `${f.key} of ${tableTitle(read, f.table, f.nth)} is known to be so`, click: () => put(withValue(jobText(), f, f.value, true)) }, 'It is so'),
    el('p', { class: 'small', id: `${id}-about` }, f.mark ? `${f.mark.why}${f.mark.kinds ? ` (bears on: ${f.mark.kinds})` : ''}` : meaning, ...(told.get(f) ?? []).map((m) => el('span', { class: `said ${m.level}` }, ` ${m.level}: ${m.what}`))),
  );
}

function aloneRow(mark: Mark): HTMLElement {
  return el(
    'div',
    { class: 'value unknown alone' },
    el('p', {}, mark.why, mark.kinds && el('span', { class: 'small' }, ` (bears on: ${mark.kinds})`)),
    el('button', { type: 'button', click: () => goTo(mark.line + 1, 1) }, 'Go to it'),
    el('button', { type: 'button', 'aria-label': `Seen to: ${mark.why}`, click: () => put(withoutMark(jobText(), mark)) }, 'Seen to'),
  );
}

// What a value of a type begins as; the engine says where that is none.
const usual = (type: string): string =>
  type === 'text'
    ? '""'
    : type === 'true or false'
      ? 'false'
      : / \| /.test(type)
        ? `"${type.split(' | ')[0]}"`
        : type === 'three numbers'
          ? '[0, 0, 0]'
          : type === 'two numbers'
            ? '[0, 0]'
            : type === 'two corners'
              ? '[[0, 0, 0], [10, 10, 10]]'
              : /^table/.test(type)
                ? '{ }'
                : type.startsWith('list')
                  ? '[]'
                  : '0';
const innerKeys = (name: string): string[] => Object.keys(keys).filter((k) => k.startsWith(`${name}.`) && !k.slice(name.length + 1).includes('.'));
// The values a table of a list begins with: those it cannot be without.
const needed = (name: string): [string, string][] =>
  innerKeys(name)
    .map((k) => k.slice(name.length + 1))
    .filter((k) => /^(about|degrees|name|box|number|shape|diameter|stickout|program|tool|rpm|depth)$/.test(k))
    .map((k) => [k, usual(keys[`${name}.${k}`][0])]);

// A key of a table that is not there yet.
function further(read: JobText, of: Table): HTMLElement | null {
  const { table, nth } = of;
  const begin = table ? `${table}.` : '';
  const there = new Set(read.fields.filter((f) => f.table === table && f.nth === nth).map((f) => f.key));
  const isThere = (k: string) => there.has(k.slice(begin.length)) || (!/^list of tables/.test(keys[k][0]) && read.tables.some((t) => t.table === k && t.top === of.top));
  const more = Object.keys(keys).filter((k) => k.startsWith(begin) && !k.slice(begin.length).includes('.') && !isThere(k));
  if (more.length === 0) return null;
  const id = `further-${table}-${nth}`.replace(/[^A-Za-z0-9_-]/g, '_');
  const add = (k: string): string => {
    const key = k.slice(begin.length);
    const type = keys[k][0];
    if (/^list of tables/.test(type)) return withTable(jobText(), k, of.top, needed(k));
    // At the top a table stands behind the others, with a heading of its own.
    if (!table && /^table/.test(type)) return `${jobText().trimEnd()}\n\n[${key}]\n`;
    return withKey(jobText(), table, nth, key, usual(type));
  };
  return el(
    'label',
    { class: 'field' },
    'Add a value',
    el(
      'select',
      { id, change: (e) => { const k = (e.target as HTMLSelectElement).value; if (k) put(add(k)); } },
      el('option', { value: '' }, 'choose'),
      ...more.map((k) => el('option', { value: k }, `${k.slice(begin.length)}: ${keys[k][1]}`)),
    ),
  );
}

const opened = new Set<string>();

function drawForm(): void {
  const read = readJobText(shownText);
  tell(read);
  const open = read.fields.filter((f) => f.mark);
  const parts: (HTMLElement | null)[] = [];
  if (open.length + read.marks.length > 0)
    parts.push(
      el('h4', {}, `Not known: ${open.length + read.marks.length}`),
      el('p', { class: 'small' }, 'What stands here is only usual. Measure, put the right value in, or say that it is so; until then each run lists it under what was not checked.'),
      ...open.map((f) => row(read, f, true)),
      ...read.marks.map(aloneRow),
    );
  for (const of of read.tables) {
    const { table, nth } = of;
    const fields = read.fields.filter((f) => f.table === table && f.nth === nth && !f.apart);
    const add = further(read, of);
    if (fields.length === 0 && !add) continue;
    const name = `${table} ${nth}`;
    parts.push(
      el(
        'details',
        { open: opened.has(name), toggle: (e) => { if ((e.target as HTMLDetailsElement).open) opened.add(name); else opened.delete(name); } },
        el('summary', {}, tableTitle(read, table, nth), fields.some(isWrong) && el('span', { class: 'bad' }, ' (a mistake)')),
        ...fields.map((f) => row(read, f, false)),
        add,
      ),
    );
  }
  byId('job-form').replaceChildren(...parts.filter((p): p is HTMLElement => p !== null));
}
export const stopChecking = (): void => {
  check?.stop();
  check = undefined;
  changed();
};

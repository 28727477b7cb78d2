// The text of a job file as a list of its values: read, and changed in place, so that text and form are two views of one
// thing and whatever the form does not know stays as it was written. No reader of TOML: the engine reads the file and says
// what is wrong with it. Tables that stand on one line are taken apart into their values.

export interface Field {
  line: number; // from 0: where its value begins
  table: string; // as written: tools, setups.fixtures; empty at the top
  nth: number; // which of the tables of this name, from 0
  key: string;
  value: string; // as written
  from: number; // where the value begins in the text, and ends
  to: number;
  apart: boolean; // its values stand as fields of their own too
  inner: boolean; // within another field's value
  mark?: Mark;
}
export interface Mark {
  line: number;
  kinds: string; // the findings that rest on it
  why: string;
}
export interface Table {
  table: string;
  nth: number;
  top: number; // which of the tables of its first name it belongs to: the setup of a zero
  line: number;
  end: number; // the line behind its last
  from?: number; // of a table within braces: where they open
  brace?: number; // and close
}
export interface JobText {
  fields: Field[];
  marks: Mark[]; // those without a value
  tables: Table[];
}

// Where a comment begins outside quotes; the line's length where there is none.
export function commentAt(line: string): number {
  let quote = '';
  for (let i = 0; i < line.length; ++i) {
    const c = line[i];
    if (quote === '"' && c === '\\') ++i;
    else if (quote) quote = c === quote ? '' : quote;
    else if (c === '"' || c === "'") quote = c;
    else if (c === '#') return i;
  }
  return line.length;
}

// Behind the quotes that begin at i; a text of one line ends with it.
function behindText(text: string, i: number): number {
  const quote = text[i];
  if (text.startsWith(quote.repeat(3), i)) {
    for (let k = i + 3; k < text.length; ++k) {
      if (quote === '"' && text[k] === '\\') ++k;
      else if (text.startsWith(quote.repeat(3), k)) return k + 3;
    }
    return text.length;
  }
  for (let k = i + 1; k < text.length && text[k] !== '\n'; ++k) {
    if (quote === '"' && text[k] === '\\') ++k;
    else if (text[k] === quote) return k + 1;
  }
  return behindLine(text, i);
}
function behindLine(text: string, i: number): number {
  const end = text.indexOf('\n', i);
  return end < 0 ? text.length : end;
}

// Behind a value that begins at i; ends: what ends a bare one besides a comment and the line.
function behindValue(text: string, i: number, ends: string): number {
  let open = 0;
  let last = i; // behind its last character that is no blank
  for (let k = i; k < text.length; ) {
    const c = text[k];
    if (c === '"' || c === "'") last = k = behindText(text, k);
    else if (c === '#') {
      if (open === 0) return last;
      k = behindLine(text, k);
    } else if (c === '\n' && open === 0) return last;
    else if (open === 0 && ends.includes(c)) return last;
    else {
      if (c === '[' || c === '{') ++open;
      else if (c === ']' || c === '}') --open;
      if (!/\s/.test(c)) last = k + 1;
      ++k;
      if (open < 0) return last;
    }
  }
  // A bracket that is never closed takes no more than its line.
  return open > 0 ? i + text.slice(i, behindLine(text, i)).trimEnd().length : last;
}

// Behind blanks, ends of lines and comments.
function behindBlanks(text: string, i: number): number {
  for (; i < text.length; ++i) {
    if (text[i] === '#') i = behindLine(text, i);
    else if (!/\s/.test(text[i])) break;
  }
  return i;
}

const keyHere = /(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')(?:[ \t]*\.[ \t]*(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*'))*/y;
interface Entry {
  key: string;
  from: number;
  to: number;
}
// The key of a line, and where its value begins; null where it has none.
function entryOf(code: string): { key: string; from: number } | null {
  const begin = code.length - code.trimStart().length;
  keyHere.lastIndex = begin;
  const key = keyHere.exec(code)?.[0];
  if (!key) return null;
  const rest = code.slice(begin + key.length).trimStart();
  if (rest[0] !== '=' || rest.slice(1).trim() === '') return null;
  return { key, from: code.length - rest.slice(1).trimStart().length };
}
// The entries of a table that opens with a brace at i; null where it is not written as one.
function entriesOf(text: string, i: number): { entries: Entry[]; brace: number } | null {
  const entries: Entry[] = [];
  for (let k = behindBlanks(text, i + 1); k < text.length; k = behindBlanks(text, k)) {
    if (text[k] === '}') return { entries, brace: k };
    keyHere.lastIndex = k;
    const key = keyHere.exec(text)?.[0];
    if (!key) return null;
    k = behindBlanks(text, k + key.length);
    if (text[k] !== '=') return null;
    const from = behindBlanks(text, k + 1);
    const to = behindValue(text, from, ',}]');
    if (to <= from) return null;
    entries.push({ key, from, to });
    k = behindBlanks(text, to);
    if (text[k] === ',') ++k;
    else if (text[k] !== '}') return null;
  }
  return null;
}
// Where the tables of a list of them begin; empty where it is no such list.
function tablesOf(text: string, i: number): number[] {
  const out: number[] = [];
  for (let k = behindBlanks(text, i + 1); text[k] === '{'; ) {
    out.push(k);
    k = behindBlanks(text, behindValue(text, k, ',]'));
    if (text[k] === ',') k = behindBlanks(text, k + 1);
    else return text[k] === ']' ? out : [];
  }
  return out;
}

function markOf(comment: string, line: number): Mark | undefined {
  const found = /^#\?\s*(?:([a-z_-]+(?:\s*,\s*[a-z_-]+)*)\s*:)?\s*(.*)$/.exec(comment);
  return found ? { line, kinds: found[1] ?? '', why: found[2] } : undefined;
}

const below = (table: string, key: string): string => (table ? `${table}.${key}` : key);

export function readJobText(text: string): JobText {
  const out: JobText = { fields: [], marks: [], tables: [{ table: '', nth: 0, top: 0, line: 0, end: 0 }] };
  const seen = new Map<string, number>();
  const next = (name: string): number => {
    const nth = seen.get(name) ?? 0;
    seen.set(name, nth + 1);
    return nth;
  };
  const lineStarts = [0];
  for (let i = text.indexOf('\n'); i >= 0; i = text.indexOf('\n', i + 1)) lineStarts.push(i + 1);
  let at = 0; // the line
  const lineOf = (offset: number): number => {
    let line = at;
    while (line + 1 < lineStarts.length && lineStarts[line + 1] <= offset) ++line;
    return line;
  };
  // A value, and those within it.
  const add = (table: Table, entry: Entry, inner: boolean, mark?: Mark): void => {
    const value = text.slice(entry.from, entry.to);
    const line = lineOf(entry.from);
    const field: Field = { line, table: table.table, nth: table.nth, key: entry.key, value, from: entry.from, to: entry.to, apart: false, inner, mark };
    out.fields.push(field);
    const starts = value[0] === '{' ? [entry.from] : value[0] === '[' ? tablesOf(text, entry.from) : [];
    for (const start of starts) {
      const found = entriesOf(text, start);
      if (!found) return;
      field.apart = true;
      const name = below(table.table, entry.key);
      const within: Table = { table: name, nth: next(name), top: table.table ? table.top : 0, line: lineOf(start), end: lineOf(found.brace) + 1, from: start, brace: found.brace };
      out.tables.push(within);
      for (const e of found.entries) add(within, e, true);
    }
  };
  let table = out.tables[0];
  while (at < lineStarts.length) {
    const start = lineStarts[at];
    const line = text.slice(start, behindLine(text, start));
    const ends = commentAt(line);
    const code = line.slice(0, ends);
    const head = /^\s*\[\[?\s*([^\]]+?)\s*\]\]?\s*$/.exec(code);
    const entry = head ? null : entryOf(code);
    const mark = markOf(line.slice(ends).trim(), at);
    if (head) {
      const first = head[1].split('.')[0].trim();
      const top = head[1] === first ? (seen.get(first) ?? 0) : Math.max(0, (seen.get(first) ?? 1) - 1);
      table = { table: head[1], nth: next(head[1]), top, line: at, end: at + 1 };
      out.tables.push(table);
    } else if (entry) {
      const from = start + entry.from;
      const to = behindValue(text, from, '');
      const last = lineOf(Math.max(from, to - 1));
      const tail = text.slice(to, behindLine(text, to));
      const own = last === at ? mark : markOf(tail.slice(commentAt(tail)).trim(), last);
      add(table, { key: entry.key, from, to }, false, own);
      table.end = last + 1;
      at = last;
    } else {
      if (code.trim()) table.end = at + 1;
      if (mark) out.marks.push(mark);
    }
    ++at;
  }
  return out;
}

// The text with one value changed; known: its mark is taken away.
export function withValue(text: string, field: Field, value: string, known: boolean): string {
  const end = behindLine(text, field.to);
  const rest = text.slice(field.to, end);
  const behind = commentAt(rest);
  // Within a table on one line, or before more of it, what follows stays as it is.
  if (field.inner || rest.slice(0, behind).trim()) return text.slice(0, field.from) + value + text.slice(field.to);
  let comment = rest.slice(behind);
  if (known && field.mark) comment = '';
  else if (comment && value !== field.value) comment = field.mark ? comment : '# given';
  const blank = comment ? ' '.repeat(Math.max(1, field.value.length + behind - value.length)) : '';
  return text.slice(0, field.from) + value + blank + comment + text.slice(end);
}

// The text without a mark that stands alone.
export const withoutMark = (text: string, mark: Mark): string =>
  text
    .split('\n')
    .filter((_, at) => at !== mark.line)
    .join('\n');

// The text with a further key at the end of a table.
export function withKey(text: string, table: string, nth: number, key: string, value: string): string {
  const found = readJobText(text).tables.find((t) => t.table === table && t.nth === nth);
  if (found?.brace !== undefined) {
    const before = text.slice(0, found.brace).trimEnd();
    const first = /[{,]$/.test(before);
    return `${before}${first ? ' ' : ', '}${key} = ${value} ${text.slice(found.brace)}`;
  }
  const lines = text.split('\n');
  lines.splice(found ? found.end : lines.length, 0, `${key} = ${value}`);
  return lines.join('\n');
}

// The text with a further table of a name: below a table, the one of that number, or at the end of the file. Where such tables
// stand in a list, into the list.
export function withTable(text: string, name: string, top: number, values: [string, string][]): string {
  const read = readJobText(text);
  const [first, ...more] = name.split('.');
  const list = read.fields.find((f) => f.value[0] === '[' && below(f.table, f.key) === name && (f.table === '' || read.tables.find((t) => t.table === f.table && t.nth === f.nth)?.top === top));
  if (list) {
    const inside = text.slice(list.from + 1, list.to - 1).trimEnd();
    const item = `{ ${values.map(([k, v]) => `${k} = ${v}`).join(', ')} }`;
    return `${text.slice(0, list.from + 1)}${inside}${inside.trim() ? (inside.trimEnd().endsWith(',') ? ' ' : ', ') : ''}${item}]${text.slice(list.to)}`;
  }
  const heads = read.tables.filter((t) => t.brace === undefined);
  let at = heads.length - 1;
  if (more.length > 0) {
    at = heads.findIndex((t) => t.table === first && t.top === top);
    if (at < 0) at = heads.length - 1;
    while (at + 1 < heads.length && heads[at + 1].table.startsWith(`${first}.`)) ++at;
  } else while (at > 0 && heads[at].table !== name && !heads[at].table.startsWith(`${name}.`) && heads.some((t) => t.table === name)) --at;
  const lines = text.split('\n');
  lines.splice(at < 0 ? lines.length : heads[at].end, 0, `[[${name}]]`, ...values.map(([k, v]) => `${k} = ${v}`));
  return lines.join('\n');
}

// The text without a table: its heading and values, or its place in a list.
export function withoutTable(text: string, of: Table): string {
  if (of.brace === undefined) {
    const lines = text.split('\n');
    lines.splice(of.line, of.end - of.line);
    return lines.join('\n');
  }
  const before = text.slice(0, of.from).trimEnd();
  const after = text.slice(of.brace + 1);
  if (before.endsWith(',')) return before.slice(0, -1) + after;
  return before + after.replace(/^\s*,\s*/, '');
}

// What a field shows for a value, and the value for what was typed. A text is shown without its quotes.
const plain = /^"((?:[^"\\\n])*)"$|^'([^'\n]*)'$/;
export const shownValue = (value: string): string => {
  const text = plain.exec(value);
  return text ? (text[1] ?? text[2]) : value;
};
export const isText = (value: string): boolean => plain.test(value);
export const typedValue = (typed: string, text: boolean): string => {
  if (!text) return typed.trim();
  const safe = [...typed].filter((c) => c >= ' ').join('');
  return safe.includes('"') || safe.includes('\\') ? (safe.includes("'") ? JSON.stringify(safe) : `'${safe}'`) : `"${safe}"`;
};

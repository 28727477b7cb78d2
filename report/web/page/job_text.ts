// The text of a job file as a list of its values: read line by line, changed in place, so that text and form are two
// views of one thing and whatever the form does not know stays as it was written. No parser of TOML: the engine reads
// the file and says what is wrong with it. What stands on more than one line is left to the text.

export interface Field {
  line: number; // from 0
  table: string; // as written: tools, setups.fixtures; empty at the top
  nth: number; // which of the tables of this name, from 0
  key: string;
  value: string; // as written
  from: number; // where the value begins in its line
  mark?: Mark;
}
export interface Mark {
  line: number;
  kinds: string; // the findings that rest on it
  why: string;
}
export interface JobText {
  fields: Field[];
  marks: Mark[]; // those without a value
  tables: { table: string; nth: number; line: number; end: number }[]; // end: the line behind its last
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

// How many brackets are open at the end of a value.
function openBrackets(value: string): number {
  let open = 0;
  let quote = '';
  for (let i = 0; i < value.length; ++i) {
    const c = value[i];
    if (quote === '"' && c === '\\') ++i;
    else if (quote) quote = c === quote ? '' : quote;
    else if (c === '"' || c === "'") quote = c;
    else if (c === '[' || c === '{') ++open;
    else if (c === ']' || c === '}') --open;
  }
  return open;
}

function markOf(comment: string, line: number): Mark | undefined {
  const found = /^#\?\s*(?:([a-z_-]+(?:\s*,\s*[a-z_-]+)*)\s*:)?\s*(.*)$/.exec(comment);
  return found ? { line, kinds: found[1] ?? '', why: found[2] } : undefined;
}

export function readJobText(text: string): JobText {
  const out: JobText = { fields: [], marks: [], tables: [{ table: '', nth: 0, line: 0, end: 0 }] };
  const seen = new Map<string, number>();
  const lines = text.split('\n');
  let open = 0; // of a value that began above
  let long = ''; // the quotes that end a text of several lines
  lines.forEach((line, at) => {
    if (long) {
      out.tables[out.tables.length - 1].end = at + 1;
      if (line.includes(long)) long = '';
      return;
    }
    const ends = commentAt(line);
    const code = line.slice(0, ends);
    const mark = markOf(line.slice(ends).trim(), at);
    const table = out.tables[out.tables.length - 1];
    const head = open === 0 ? /^\s*\[\[?\s*([^\]]+?)\s*\]\]?\s*$/.exec(code) : null;
    if (code.trim() && !head) table.end = at + 1;
    if (open > 0) {
      open += openBrackets(code);
      return;
    }
    const entry = /^(\s*([A-Za-z0-9_.\-]+|"[^"]*")\s*=\s*)(.*?)\s*$/.exec(code);
    if (head) {
      const nth = seen.get(head[1]) ?? 0;
      seen.set(head[1], nth + 1);
      out.tables.push({ table: head[1], nth, line: at, end: at + 1 });
    } else if (entry) {
      const value = entry[3];
      for (const quotes of ['"""', "'''"])
        if (value.startsWith(quotes) && !value.slice(3).includes(quotes)) long = quotes;
      open = long ? 0 : Math.max(0, openBrackets(value));
      if (!long && open === 0)
        out.fields.push({ line: at, table: table.table, nth: table.nth, key: entry[2], value, from: entry[1].length, mark });
      else if (mark) out.marks.push(mark);
    } else if (mark) {
      out.marks.push(mark);
    }
  });
  return out;
}

// The text with one value changed; known: its mark is taken away.
export function withValue(text: string, field: Field, value: string, known: boolean): string {
  const lines = text.split('\n');
  const line = lines[field.line];
  const ends = commentAt(line);
  let comment = line.slice(ends);
  if (known && field.mark) comment = '';
  else if (comment && value !== field.value) comment = field.mark ? comment : '# given';
  const blank = comment ? ' '.repeat(Math.max(1, ends - field.from - value.length)) : '';
  lines[field.line] = line.slice(0, field.from) + value + blank + comment;
  return lines.join('\n');
}

// The text without a mark that stands alone.
export const withoutMark = (text: string, mark: Mark): string =>
  text
    .split('\n')
    .filter((_, at) => at !== mark.line)
    .join('\n');

// The text with a further key at the end of a table.
export function withKey(text: string, table: string, nth: number, key: string, value: string): string {
  const lines = text.split('\n');
  const found = readJobText(text).tables.find((t) => t.table === table && t.nth === nth);
  lines.splice(found ? found.end : lines.length, 0, `${key} = ${value}`);
  return lines.join('\n');
}

// What a field shows for a value, and the value for what was typed. A text is shown without its quotes.
const plain = /^"((?:[^"\\])*)"$|^'([^']*)'$/;
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

// What the picture of the setups changes in the job's text: zeros moved, the work turned, clamps and supports.
import { readJobText, withKey, withTable, withValue, type JobText, type Table } from './job_text';

export type Triple = [number, number, number];
export type Box = [Triple, Triple];

// mm a unit of the job's lengths.
export const perUnit = (text: string): number => (/^\s*units\s*=\s*["']inch["']/m.test(text) ? 25.4 : 1);
// To a micrometre, as short as it can be written.
const written = (mm: number, unit: number): string => String(Number((mm / unit).toFixed(unit === 1 ? 3 : 5)) + 0);
const list = (p: Triple, unit: number): string => `[${p.map((v) => written(v, unit)).join(', ')}]`;
export const boxText = (box: Box, unit: number): string => {
  const low = box[0].map((v, i) => Math.min(v, box[1][i])) as Triple;
  const high = box[0].map((v, i) => Math.max(v, box[1][i])) as Triple;
  return `[${list(low, unit)}, ${list(high, unit)}]`;
};
const numbersIn = (value: string): number[] => [...value.matchAll(/[-+]?(?:\d[\d_]*\.?[\d_]*|\.\d+)(?:[eE][-+]?\d+)?/g)].map(([n]) => Number(n.replaceAll('_', '')));

const tableOf = (read: JobText, name: string, top: number): Table | undefined => read.tables.find((t) => t.table === name && t.top === top);
const fieldOf = (read: JobText, of: Table | undefined, key: string) => of && read.fields.find((f) => f.table === of.table && f.nth === of.nth && f.key === key);

// The zero of a setup moved by (mm, machine's axes); rotation: rows of the machine's axes in stock coordinates.
export function withZeroMoved(text: string, setup: number, by: Triple, rotation: number[][]): string {
  const read = readJobText(text);
  const unit = perUnit(text);
  const zero = tableOf(read, 'setups.zero', setup);
  if (!zero) return withKey(text, 'setups', setup, 'zero', `{ offset = ${list(by, unit)} }`);
  const at = fieldOf(read, zero, 'at');
  if (at) {
    const p = numbersIn(at.value);
    const to = [0, 1, 2].map((i) => (p[i] ?? 0) * unit + by[0] * rotation[0][i] + by[1] * rotation[1][i] + by[2] * rotation[2][i]) as Triple;
    return withValue(text, at, list(to, unit), false);
  }
  const offset = fieldOf(read, zero, 'offset');
  if (!offset) return withKey(text, zero.table, zero.nth, 'offset', list(by, unit));
  const p = numbersIn(offset.value);
  return withValue(text, offset, list([0, 1, 2].map((i) => (p[i] ?? 0) * unit + by[i]) as Triple, unit), false);
}

// The blank turned by a further quarter about an axis of the machine, as it lies.
export function withQuarter(text: string, setup: number, about: string): string {
  const read = readJobText(text);
  const turns = read.tables.filter((t) => t.table === 'setups.turn' && t.top === setup);
  const last = turns[turns.length - 1];
  const degrees = fieldOf(read, last, 'degrees');
  const axis = fieldOf(read, last, 'about')?.value.replace(/["']/g, '');
  if (degrees && axis === about && Number.isFinite(Number(degrees.value)))
    return withValue(text, degrees, String((((Number(degrees.value) + 90) % 360) + 360) % 360), false);
  const values: [string, string][] = [['about', `"${about}"`], ['degrees', '90']];
  if (last) return withTable(text, 'setups.turn', setup, values);
  return withKey(text, 'setups', setup, 'turn', `[{ about = "${about}", degrees = 90 }]`);
}

// The tables with the boxes of a setup's fixtures, or the part's supports (setup 0), as the engine numbers them.
export const boxTables = (read: JobText, name: string, top: number): Table[] => read.tables.filter((t) => t.table === name && t.top === top);

export function withBox(text: string, name: string, top: number, nth: number, box: Box): string {
  const read = readJobText(text);
  const field = fieldOf(read, boxTables(read, name, top)[nth], 'box');
  return field ? withValue(text, field, boxText(box, perUnit(text)), true) : text;
}

export function withNewBox(text: string, name: string, top: number, box: Box): string {
  const nth = boxTables(readJobText(text), name, top).length + 1;
  const values: [string, string][] = [['box', boxText(box, perUnit(text))]];
  return withTable(text, name, top, name === 'setups.fixtures' ? [['name', `"clamp ${nth}"`], ...values] : values);
}

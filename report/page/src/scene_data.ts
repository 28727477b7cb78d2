// A setup's surfaces and columns, brought into its frame.
import { Matrix4 } from 'three';
import type { About, Bulk, Finding, Setup, Surface, Tool, Triple } from './data.ts';
import { Columns, gridOver } from './columns.ts';
import type { Motions } from './motions.ts';
import { categoryOf } from './palette.ts';

export interface PartField {
  origin: Triple;
  step: number;
  count: Triple;
  values: Float32Array;
}
// Where a finding is: the moment its line's motion comes nearest to its place.
export interface Place {
  motion: number; // -1: none
  share: number;
  file: number; // index, -1: none
  at: Triple | null; // null: it has no place
}
export interface PlacedFinding {
  finding: Finding;
  place: Place;
}
export interface SetupScene {
  setup: Setup;
  motions: Motions;
  before: Surface;
  after: Surface | null;
  columns: Columns;
  low: Triple;
  high: Triple;
  findings: PlacedFinding[];
  tools: Map<number, { tool: Tool; colour: string }>;
  fieldFromSetup: Matrix4;
}

// stock_from_setup is a rotation and a shift: its inverse turns back and unshifts.
export function setupFromStock(setup: Setup, p: ArrayLike<number>, i = 0): Triple {
  const m = setup.stock_from_setup;
  const d = m.map((row, k) => p[i + k] - row[3]);
  return [0, 1, 2].map((k) => m[0][k] * d[0] + m[1][k] * d[1] + m[2][k] * d[2]) as Triple;
}

// The blank's box as it lies in the setup.
export function blankBox(about: About, setup: Setup): { low: Triple; high: Triple } {
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].map((k) =>
    setupFromStock(
      setup,
      about.stock_size.map((size, a) => ((k >> a) & 1 ? size : 0)),
    ),
  );
  const of = (pick: (...v: number[]) => number) =>
    [0, 1, 2].map((a) => pick(...corners.map((c) => c[a]))) as Triple;
  return { low: of(Math.min), high: of(Math.max) };
}

// To places in the lattice's texture, 0 to 1 over all of it.
export function fieldFromSetup(field: PartField | null, setup: Setup): Matrix4 {
  if (!field) return new Matrix4();
  const [x, y, z] = setup.stock_from_setup;
  const stock = new Matrix4().set(...x, ...y, ...z, 0, 0, 0, 1);
  const { origin, step, count } = field;
  return new Matrix4()
    .makeScale(1 / (step * count[0]), 1 / (step * count[1]), 1 / (step * count[2]))
    .multiply(new Matrix4().makeTranslation(...(origin.map((v) => step / 2 - v) as Triple)))
    .multiply(stock);
}

// Without a motion of its own line: the next line's first motion, before it starts.
export function placeOf(finding: Finding, setup: Setup, motions: Motions): Place {
  const file = setup.files.findIndex((f) => f.name === finding.file);
  const far = finding.at.some((v) => v !== 0);
  let best: Place & { away: number } = { motion: -1, share: 0, file, at: null, away: Infinity };
  for (const motion of file < 0 || !finding.line ? [] : motions.ofLine(file, finding.line)) {
    const { share, away } = motions.nearest(motion, finding.at);
    if (away < best.away) best = { ...best, motion, share, away };
  }
  const at = far || best.away < 0.5 ? finding.at : null;
  if (best.motion >= 0) return at ? { ...best, at } : { ...best, at, share: 0 };
  if (file < 0 || !finding.line) return { ...best, at };
  const motion = motions.line.findIndex((l, m) => l > finding.line && motions.file[m] === file);
  return { ...best, motion, at };
}

// A triangle takes the colour of its last corner; the latest motion goes last, so that the edge between
// two motions' surfaces follows the cells and not their diagonals.
function latestLast(surface: Surface) {
  const { triangles: t, madeBy } = surface;
  for (let k = 0; k < t.length; k += 3) {
    const a = t[k],
      b = t[k + 1],
      c = t[k + 2];
    if (madeBy[a] > madeBy[b] && madeBy[a] > madeBy[c]) {
      t[k] = b;
      t[k + 1] = c;
      t[k + 2] = a;
    } else if (madeBy[b] > madeBy[c]) {
      t[k] = c;
      t[k + 1] = a;
      t[k + 2] = b;
    }
  }
}

function placed(setup: Setup, surface: Surface): Surface {
  latestLast(surface);
  const vertices = new Float32Array(surface.vertices.length);
  for (let i = 0; i < vertices.length; i += 3)
    vertices.set(setupFromStock(setup, surface.vertices, i), i);
  return { ...surface, vertices };
}

// Every face has corners of its own: shading is smoothed over those that are shared.
function boxSurface(low: Triple, high: Triple): Surface {
  const faces = [
    [0, 2, 3, 1],
    [4, 5, 7, 6],
    [0, 1, 5, 4],
    [2, 6, 7, 3],
    [0, 4, 6, 2],
    [1, 3, 7, 5],
  ];
  const corner = (k: number) => low.map((v, a) => ((k >> a) & 1 ? high[a] : v));
  return {
    vertices: Float32Array.from(faces.flat().flatMap(corner)),
    triangles: Uint32Array.from(faces.flatMap((_, f) => [0, 1, 2, 0, 2, 3].map((k) => 4 * f + k))),
    madeBy: new Uint32Array(24),
    deviation: null,
  };
}

// most: columns at most. Before the first setup stands the blank; before each other one what was left.
export function sceneOf(
  about: About,
  bulk: Bulk,
  index: number,
  motions: Motions,
  most: number,
  field: PartField | null,
): SetupScene {
  const setup = about.setups[index];
  let stored = bulk.surface(setup.before);
  for (let s = index - 1; s >= 0 && !stored; s--) stored = bulk.surface(about.setups[s].after);
  const { low, high } = blankBox(about, setup);
  const before = stored ? placed(setup, stored) : boxSurface(low, high);
  const after = bulk.surface(setup.after);
  const columns = new Columns(
    gridOver(low, high, most, Math.max(0.1, about.voxel)),
    stored ? before : null,
    motions,
    about.tools,
  );
  return {
    setup,
    motions,
    before,
    after: after && placed(setup, after),
    columns,
    low,
    high,
    findings: about.findings
      .filter((finding) => finding.setup === index)
      .map((finding) => ({ finding, place: placeOf(finding, setup, motions) })),
    fieldFromSetup: fieldFromSetup(field, setup),
    tools: new Map(about.tools.map((tool, i) => [tool.number, { tool, colour: categoryOf(i) }])),
  };
}

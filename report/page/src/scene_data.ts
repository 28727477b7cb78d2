// A setup's surfaces and columns, brought into its frame.
import type { About, Bulk, Setup, Surface, Triple } from './data.ts';
import { Columns, gridOver } from './columns.ts';
import type { Motions } from './motions.ts';
import { categoryOf } from './palette.ts';
import type { SetupScene } from './view.ts';

// stock_from_setup is a rotation and a shift: its inverse turns back and unshifts.
export function setupFromStock(setup: Setup, p: ArrayLike<number>, i = 0): Triple {
  const m = setup.stock_from_setup;
  const x = p[i] - m[3],
    y = p[i + 1] - m[7],
    z = p[i + 2] - m[11];
  return [
    m[0] * x + m[4] * y + m[8] * z,
    m[1] * x + m[5] * y + m[9] * z,
    m[2] * x + m[6] * y + m[10] * z,
  ];
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

function boxSurface(low: Triple, high: Triple): Surface {
  const vertices = new Float32Array(24);
  for (let k = 0; k < 8; k++)
    for (let a = 0; a < 3; a++) vertices[3 * k + a] = (k >> a) & 1 ? high[a] : low[a];
  const faces = [
    [0, 2, 3, 1],
    [4, 5, 7, 6],
    [0, 1, 5, 4],
    [2, 6, 7, 3],
    [0, 4, 6, 2],
    [1, 3, 7, 5],
  ];
  const triangles = Uint32Array.from(faces.flatMap(([a, b, c, d]) => [a, b, c, a, c, d]));
  return { vertices, triangles, madeBy: new Uint32Array(8), deviation: null };
}

// most: columns at most. Before the first setup stands the blank; before each other one what was left.
export function sceneOf(
  about: About,
  bulk: Bulk,
  index: number,
  motions: Motions,
  most: number,
): SetupScene {
  const setup = about.setups[index];
  let stored = bulk.surface(setup.before);
  for (let s = index - 1; s >= 0 && !stored; s--) stored = bulk.surface(about.setups[s].after);
  const low: Triple = [Infinity, Infinity, Infinity],
    high: Triple = [-Infinity, -Infinity, -Infinity];
  for (let k = 0; k < 8; k++) {
    const corner = setupFromStock(
      setup,
      [0, 1, 2].map((a) => ((k >> a) & 1 ? about.stock_size[a] : 0)),
    );
    for (let a = 0; a < 3; a++) {
      low[a] = Math.min(low[a], corner[a]);
      high[a] = Math.max(high[a], corner[a]);
    }
  }
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
    findings: about.findings.filter(
      (f) => f.setup === index && (f.line > 0 || f.at.some((v) => v !== 0)),
    ),
    tools: new Map(about.tools.map((tool, i) => [tool.number, { tool, colour: categoryOf(i) }])),
  };
}

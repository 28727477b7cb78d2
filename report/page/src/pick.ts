// What lies under a ray: the nearest visible point of the surfaces or the columns.
import type { Surface, Triple } from './data.ts';
import type { Columns } from './columns.ts';

export interface Hit {
  distance: number;
  at: Triple;
  id: number;
  deviation: number | null;
  inside: boolean;
} // inside: the section plane's cut face

// visible: is this point, made by this motion, drawn?
export function hitSurface(
  surface: Surface,
  origin: Triple,
  direction: Triple,
  visible: (at: Triple, madeBy: number) => boolean,
  bothSides: boolean,
): Hit | null {
  const { vertices: v, triangles: t, madeBy, deviation } = surface;
  const [dx, dy, dz] = direction;
  let best: Hit | null = null;
  for (let k = 0; k < t.length; k += 3) {
    const a = 3 * t[k],
      b = 3 * t[k + 1],
      c = 3 * t[k + 2];
    // Moeller and Trumbore, Journal of Graphics Tools 2 (1997) 21-28. A face seen from behind is the
    // inside of material that a section plane has opened.
    const ux = v[b] - v[a],
      uy = v[b + 1] - v[a + 1],
      uz = v[b + 2] - v[a + 2];
    const wx = v[c] - v[a],
      wy = v[c + 1] - v[a + 1],
      wz = v[c + 2] - v[a + 2];
    const px = dy * wz - dz * wy,
      py = dz * wx - dx * wz,
      pz = dx * wy - dy * wx;
    const det = ux * px + uy * py + uz * pz;
    if (det === 0 || (det < 0 && !bothSides)) continue;
    const sx = origin[0] - v[a],
      sy = origin[1] - v[a + 1],
      sz = origin[2] - v[a + 2];
    const p = (sx * px + sy * py + sz * pz) / det;
    if (p < 0 || p > 1) continue;
    const qx = sy * uz - sz * uy,
      qy = sz * ux - sx * uz,
      qz = sx * uy - sy * ux;
    const q = (dx * qx + dy * qy + dz * qz) / det;
    if (q < 0 || p + q > 1) continue;
    const distance = (wx * qx + wy * qy + wz * qz) / det;
    if (distance <= 0 || (best && distance >= best.distance)) continue;
    const at: Triple = [
      origin[0] + distance * dx,
      origin[1] + distance * dy,
      origin[2] + distance * dz,
    ];
    // The corner nearest to the point speaks for it.
    const weights = [1 - p - q, p, q];
    const corner = t[k + weights.indexOf(Math.max(...weights))];
    if (!visible(at, madeBy[corner])) continue;
    best = {
      distance,
      at,
      id: madeBy[corner],
      deviation: deviation ? deviation[corner] : null,
      inside: det < 0,
    };
  }
  return best;
}

// Walks along the ray column by column.
export function hitColumns(
  columns: Columns,
  origin: Triple,
  direction: Triple,
  visible: (at: Triple) => boolean,
): Hit | null {
  const { grid, now: state } = columns;
  const bounds: [number, number][] = [
    [grid.x, grid.x + grid.nx * grid.cell],
    [grid.y, grid.y + grid.ny * grid.cell],
    [grid.low, grid.high],
  ];
  let enter = 0,
    leave = Infinity;
  for (let k = 0; k < 3; k++) {
    if (direction[k] === 0) {
      if (origin[k] < bounds[k][0] || origin[k] > bounds[k][1]) return null;
      continue;
    }
    const s = (bounds[k][0] - origin[k]) / direction[k],
      e = (bounds[k][1] - origin[k]) / direction[k];
    enter = Math.max(enter, Math.min(s, e));
    leave = Math.min(leave, Math.max(s, e));
  }
  const step = grid.cell / 4;
  for (let distance = enter; distance <= leave; distance += step) {
    const at: Triple = [0, 1, 2].map((k) => origin[k] + distance * direction[k]) as Triple;
    const i = Math.min(grid.nx - 1, Math.max(0, Math.floor((at[0] - grid.x) / grid.cell)));
    const j = Math.min(grid.ny - 1, Math.max(0, Math.floor((at[1] - grid.y) / grid.cell)));
    const c = j * grid.nx + i;
    // Columns no tool has lowered are drawn by the surface before the cut.
    if (state.id[c] === 0 || !columns.solid(c, at[2]) || !visible(at)) continue;
    return { distance, at, id: state.id[c], deviation: null, inside: false };
  }
  return null;
}

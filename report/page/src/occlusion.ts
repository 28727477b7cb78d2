// How much of the open sky material takes away from a place: the share of material about it, worked out once from a
// closed surface on a coarse lattice. In corners and pockets that is more than on a plain face.
import { crossingsOf } from './columns.ts';
import type { Surface, Triple } from './data.ts';

const mostCells = 150000;
const around = 2; // cells either way that are averaged, twice along each axis
const spare = 2 * around + 1; // cells beside the box

export interface Occlusion {
  origin: Triple; // mm: low corner of the first cell
  step: number; // mm
  count: Triple;
  values: Uint8Array<ArrayBuffer>; // share of material, 255: all of it
}

// The mean of 2 * around + 1 neighbours along an axis; outside of the lattice there is nothing.
function average(values: Float32Array, length: number, stride: number) {
  const wide = 2 * around + 1,
    line = new Float32Array(length);
  for (let start = 0; start < values.length; start++) {
    if (Math.floor(start / stride) % length !== 0) continue;
    let sum = 0;
    for (let i = 0; i < length + around; i++) {
      if (i < length) sum += line[i] = values[start + i * stride];
      if (i >= wide) sum -= line[i - wide];
      if (i >= around) values[start + (i - around) * stride] = sum / wide;
    }
  }
}

export function occlusionOf(surface: Surface, low: Triple, high: Triple): Occlusion {
  const size = low.map((v, k) => high[k] - v);
  const step = Math.max(0.1, Math.cbrt(size.reduce((product, v) => product * v, 1) / mostCells));
  const count = size.map((v) => Math.ceil(v / step) + 2 * spare) as Triple;
  const origin = low.map((v) => v - spare * step) as Triple;
  const [nx, ny, nz] = count;
  // Two columns a cell along x and y: walls need not stand where cells end.
  const fine = { x: origin[0], y: origin[1], cell: step / 2, nx: 2 * nx, ny: 2 * ny, low: low[2], high: high[2] };
  const [first, crossings] = crossingsOf(fine, surface);
  const share = new Float32Array(nx * ny * nz);
  for (let c = 0; c < 4 * nx * ny; c++) {
    const column = ((c / (2 * nx)) >> 1) * nx + ((c % (2 * nx)) >> 1);
    for (let k = first[c]; k < first[c + 1]; k += 2) {
      const from = (crossings[k] - origin[2]) / step,
        to = (crossings[k + 1] - origin[2]) / step;
      for (let z = Math.max(0, Math.floor(from)); z < Math.min(nz, to); z++)
        share[z * nx * ny + column] += Math.max(0, Math.min(to, z + 1) - Math.max(from, z)) / 4;
    }
  }
  for (let twice = 0; twice < 2; twice++) {
    average(share, nx, 1);
    average(share, ny, nx);
    average(share, nz, nx * ny);
  }
  return { origin, step, count, values: Uint8Array.from(share, (v) => Math.round(255 * v)) };
}

// How what is left of one run differs from what is left of another, after a setup of each: the distance of the
// one's surface from the other's, in stock coordinates.
import { crossingsOf } from './columns.ts';
import type { Surface, Triple } from './data.ts';
import { Nearest } from './nearest.ts';
import type { PartField } from './scene_data.ts';

export const reach = 2; // mm: what differs by more is told as that or more
const mostPlaces = 200000; // of the lattice

export interface Difference {
  atEnd: Float32Array; // of each vertex of the one's surface: mm, above 0 where more is left than by the other
  field: PartField; // the same at any place of the one's blank, for moments before the end
  more: number; // mm, the largest of atEnd
  less: number;
}

// vertices: of the one's surface; size: of its blank; other: what the other leaves. pause is asked every 15 ms and
// lets the page go on.
export async function differenceOf(
  vertices: Float32Array,
  size: Triple,
  other: Surface,
  pause: () => Promise<unknown>,
): Promise<Difference> {
  let end = performance.now() + 15;
  const breathe = async () => {
    if (performance.now() < end) return;
    await pause();
    end = performance.now() + 15;
  };
  const volume = size.reduce((product, v) => product * v, 1);
  const step = Math.max(0.1, Math.cbrt(volume / mostPlaces));
  // Places beside what is just within reach know their own distance, so that between them it is true too.
  const far = reach + 2 * step;
  const from = new Nearest(other.vertices, other.triangles, far);
  const count = size.map((v) => Math.ceil(v / step) + 3) as Triple;
  const [nx, ny, nz] = count;
  const low = -1.5 * step; // of the cells about the places
  const grid = { x: low, y: low, cell: step, nx, ny, low, high: size[2] };
  const [first, crossings] = crossingsOf(grid, other);
  const values = new Float32Array(nx * ny * nz);
  for (let c = 0; c < nx * ny; c++) {
    if (c % 16 === 0) await breathe();
    const x = low + ((c % nx) + 0.5) * step,
      y = low + (Math.floor(c / nx) + 0.5) * step;
    for (let k = 0, n = first[c]; k < nz; k++) {
      const z = low + (k + 0.5) * step;
      while (n < first[c + 1] && crossings[n] < z) n++;
      const away = Math.abs(from.at(x, y, z) ?? far);
      values[k * nx * ny + c] = (n - first[c]) % 2 ? -away : away;
    }
  }
  const place = (v: number, n: number) => Math.max(0, Math.min(n - 1, Math.floor((v - low) / step)));
  const atEnd = new Float32Array(vertices.length / 3);
  let [more, less] = [0, 0];
  for (let i = 0; i < atEnd.length; i++) {
    if (i % 256 === 0) await breathe();
    const [x, y, z] = vertices.subarray(3 * i, 3 * i + 3);
    const away = from.at(x, y, z);
    // The lattice knows on which side of it all a far place is.
    const at = (place(z, nz) * ny + place(y, ny)) * nx + place(x, nx);
    atEnd[i] = Math.max(-reach, Math.min(reach, away ?? Math.sign(values[at]) * far));
    more = Math.max(more, atEnd[i]);
    less = Math.max(less, -atEnd[i]);
  }
  const origin = [0, 1, 2].map(() => low + step / 2) as Triple;
  return { atEnd, field: { origin, step, count, values }, more, less };
}

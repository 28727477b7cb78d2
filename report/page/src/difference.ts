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
  const count = size.map((v) => Math.ceil(v / step) + 3) as Triple;
  const [nx, ny, nz] = count,
    layer = nx * ny;
  const low = -1.5 * step; // of the cells about the places
  const from = new Nearest(other.vertices, other.triangles, far);

  // On which side of the other's surface a place is, far from it too, by the column it stands in.
  const [first, crossings] = crossingsOf({ x: low, y: low, cell: step, nx, ny, low, high: size[2] }, other);
  const below = (c: number, z: number) => {
    let n = first[c];
    while (n < first[c + 1] && crossings[n] < z) n++;
    return (n - first[c]) % 2 === 1;
  };
  const cellOf = (v: number, n: number) => Math.max(0, Math.min(n - 1, Math.floor((v - low) / step)));

  const atEnd = new Float32Array(vertices.length / 3);
  let [more, less] = [0, 0];
  for (let i = 0; i < atEnd.length; i++) {
    if (i % 256 === 0) await breathe();
    const x = vertices[3 * i],
      y = vertices[3 * i + 1],
      z = vertices[3 * i + 2];
    const away = from.at(x, y, z) ?? (below(cellOf(y, ny) * nx + cellOf(x, nx), z) ? -far : far);
    atEnd[i] = Math.max(-reach, Math.min(reach, away));
    more = Math.max(more, atEnd[i]);
    less = Math.max(less, -atEnd[i]);
  }

  // Of the lattice only places beside the surface are looked up. The rest ask what is nearest to their neighbours, once
  // from each end: that finds the nearest but for a few far places, which are told a little further off.
  const values = new Float32Array(layer * nz).fill(far),
    owner = new Int32Array(layer * nz).fill(-1);
  const place = (i: number) => low + (i + 0.5) * step;
  const beside = new Nearest(other.vertices, other.triangles, 1.5 * step);
  const scan = async (visit: (p: number, i: number, j: number, k: number) => void, back: boolean) => {
    for (let row = 0; row < ny * nz; row++) {
      if (row % 8 === 0) await breathe();
      const at = back ? ny * nz - 1 - row : row;
      for (let n = 0; n < nx; n++) {
        const i = back ? nx - 1 - n : n;
        visit(at * nx + i, i, at % ny, Math.floor(at / ny));
      }
    }
  };
  await scan((p, i, j, k) => {
    const away = beside.at(place(i), place(j), place(k));
    if (away === null) return;
    values[p] = Math.abs(away);
    owner[p] = beside.nearest;
  }, false);
  const ways = Array.from({ length: 13 }, (_, n) => [(n % 3) - 1, (Math.floor(n / 3) % 3) - 1, Math.floor(n / 9) - 1]);
  for (const back of [false, true])
    await scan((p, i, j, k) => {
      for (const [a, b, c] of ways) {
        const [u, v, w] = back ? [i - a, j - b, k - c] : [i + a, j + b, k + c];
        if (u < 0 || v < 0 || w < 0 || u >= nx || v >= ny || w >= nz) continue;
        const told = owner[w * layer + v * nx + u];
        if (told < 0 || told === owner[p]) continue;
        const away = from.of(told, place(i), place(j), place(k));
        if (away < values[p]) {
          values[p] = away;
          owner[p] = told;
        }
      }
    }, back);
  await scan((p, i, j, k) => {
    if (below(j * nx + i, place(k))) values[p] = -values[p];
  }, false);
  const origin = [0, 1, 2].map(() => low + step / 2) as Triple;
  return { atEnd, field: { origin, step, count, values }, more, less };
}

// At the reach no more is known than that.
export function mostWords({ more, less }: Pick<Difference, 'more' | 'less'>): string {
  const mm = (v: number) => (v >= reach ? `at least ${reach} mm` : `up to ${v.toFixed(3)} mm`);
  return `${mm(more)} more is left, ${mm(less)} less`;
}

// Coarser twins of the stock's meshes, drawn while the picture moves where drawing it all takes long.
import { BufferAttribute, BufferGeometry } from 'three';

const mostTriangles = 9_000,
  mostColumns = 3_500;

// Vertices within one cell become one of them, rather one on an edge than on a face, rather a corner than one on an
// edge: edges stay where they are. geometry has been through addCreasedNormals.
export function draftOf(geometry: BufferGeometry): BufferGeometry | undefined {
  const index = geometry.getIndex()!.array as Uint32Array;
  const triangles = index.length / 3;
  if (triangles < 2 * mostTriangles) return undefined;
  const place = geometry.getAttribute('position').array as Float32Array,
    doubled = geometry.userData.doubled as Uint32Array,
    all = place.length / 3,
    vertices = all - doubled.length;
  const source = new Uint32Array(all), // of a vertex, the one it doubles or itself
    sides = new Uint8Array(vertices);
  for (let v = 0; v < vertices; v++) source[v] = v;
  for (let i = 0; i < doubled.length; i++) {
    source[vertices + i] = doubled[i]!;
    if (sides[doubled[i]!]! < 3) sides[doubled[i]!]!++;
  }
  const low = [Infinity, Infinity, Infinity],
    high = [-Infinity, -Infinity, -Infinity];
  for (let v = 0; v < place.length; v++) {
    low[v % 3] = Math.min(low[v % 3]!, place[v]!);
    high[v % 3] = Math.max(high[v % 3]!, place[v]!);
  }
  let area = 0;
  for (let c = 0; c < index.length; c += 3) {
    const a = 3 * index[c]!,
      b = 3 * index[c + 1]!,
      d = 3 * index[c + 2]!;
    const ux = place[b]! - place[a]!,
      uy = place[b + 1]! - place[a + 1]!,
      uz = place[b + 2]! - place[a + 2]!,
      wx = place[d]! - place[a]!,
      wy = place[d + 1]! - place[a + 1]!,
      wz = place[d + 2]! - place[a + 2]!;
    area += Math.sqrt((uy * wz - uz * wy) ** 2 + (uz * wx - ux * wz) ** 2 + (ux * wy - uy * wx) ** 2) / 2;
  }
  const cell = Math.sqrt((2 * area) / mostTriangles);
  const [nx, ny, nz] = [0, 1, 2].map((k) => Math.floor((high[k]! - low[k]!) / cell) + 1) as [number, number, number];
  const chosen = new Int32Array(nx * ny * nz).fill(-1), // by cell
    cells = new Int32Array(vertices);
  for (let v = 0; v < vertices; v++) {
    const x = Math.floor((place[3 * v]! - low[0]!) / cell),
      y = Math.floor((place[3 * v + 1]! - low[1]!) / cell),
      z = Math.floor((place[3 * v + 2]! - low[2]!) / cell);
    const key = (cells[v] = (z * ny + y) * nx + x);
    if (chosen[key]! < 0 || sides[v]! > sides[chosen[key]!]!) chosen[key] = v;
  }
  const from: number[] = [],
    placed = new Map<number, number>(),
    out: number[] = [];
  // A side of an edge is one vertex: of the fine vertex chosen, the twin whose face is turned like this one.
  const normal = geometry.getAttribute('normal').array as Float32Array;
  const twins = new Map<number, number[]>();
  for (let i = 0; i < doubled.length; i++) {
    const list = twins.get(doubled[i]!);
    if (list) list.push(vertices + i);
    else twins.set(doubled[i]!, [vertices + i]);
  }
  const alike = (corner: number, v: number) => {
    let best = v,
      most = -2;
    for (const t of [v, ...(twins.get(v) ?? [])]) {
      let dot = 0;
      for (let k = 0; k < 3; k++) dot += normal[3 * t + k]! * normal[3 * corner + k]!;
      if (dot > most) [best, most] = [t, dot];
    }
    return best;
  };
  for (let c = 0; c < index.length; c += 3) {
    const a = chosen[cells[source[index[c]!]!]!]!,
      b = chosen[cells[source[index[c + 1]!]!]!]!,
      d = chosen[cells[source[index[c + 2]!]!]!]!;
    if (a === b || b === d || d === a) continue;
    for (const [k, v] of [a, b, d].entries()) {
      const twin = alike(index[c + k]!, v);
      let at = placed.get(twin);
      if (at === undefined) {
        placed.set(twin, (at = from.length));
        from.push(twin);
      }
      out.push(at);
    }
  }
  const draft = new BufferGeometry();
  draft.userData.from = Uint32Array.from(from);
  for (const name of Object.keys(geometry.attributes)) {
    const { array, itemSize } = geometry.getAttribute(name) as BufferAttribute;
    draft.setAttribute(name, new BufferAttribute(taken(array as Float32Array, draft, itemSize), itemSize));
  }
  draft.setIndex(new BufferAttribute(Uint32Array.from(out), 1));
  return draft;
}

// What a draft's vertices have of one value, or some, a vertex of the whole mesh.
export function taken<T extends Float32Array | Uint32Array>(values: T, draft: BufferGeometry, each = 1): T {
  const from = draft.userData.from as Uint32Array;
  const out = new (values.constructor as new (size: number) => T)(each * from.length);
  for (let i = 0; i < from.length; i++)
    for (let k = 0; k < each; k++) out[each * i + k] = values[each * from[i]! + k]!;
  return out;
}

// Every so many columns; the shader reads a column's height by its number. The last ones stay.
export function draftColumns(whole: BufferGeometry, nx: number, ny: number): BufferGeometry | undefined {
  const stride = Math.round(Math.sqrt((nx * ny) / mostColumns));
  if (stride < 2) return undefined;
  const steps = (n: number) => {
    const out: number[] = [];
    for (let i = 0; i < n - 1; i += stride) out.push(i);
    return [...out, n - 1];
  };
  const across = steps(nx),
    along = steps(ny),
    index: number[] = [];
  for (let j = 0; j + 1 < along.length; j++)
    for (let i = 0; i + 1 < across.length; i++) {
      const [a, b] = [nx * along[j]!, nx * along[j + 1]!],
        [c, d] = [across[i]!, across[i + 1]!];
      index.push(a + c, a + d, b + d, a + c, b + d, b + c);
    }
  const draft = new BufferGeometry();
  draft.setAttribute('position', whole.getAttribute('position'));
  draft.setIndex(new BufferAttribute(Uint32Array.from(index), 1));
  return draft;
}

import { BufferAttribute, type BufferGeometry } from 'three';

// Normals of an indexed surface: smooth where faces turn little, each face's own along edges. A
// vertex on an edge is doubled for each side; its other attributes are copied, and geometry.userData
// names which vertices were doubled, for attributes that come later (withDoubled). A vertex on an edge was made by one
// motion as far as the surface tells; each side of it gets that of its own faces (madeBy), so that colours end at the edge.
export function addCreasedNormals(geometry: BufferGeometry, degrees = 30) {
  const index = (geometry.getIndex()!.array as Uint32Array).slice();
  const place = geometry.getAttribute('position').array as Float32Array;
  const faces = index.length / 3,
    vertices = place.length / 3,
    alike = Math.cos((degrees * Math.PI) / 180);
  // Of each face, as long as twice its area: large ones count for more.
  const normal = new Float32Array(3 * faces),
    length = new Float32Array(faces),
    first = new Uint32Array(vertices + 1);
  for (let f = 0; f < faces; f++) {
    const a = 3 * index[3 * f]!,
      b = 3 * index[3 * f + 1]!,
      c = 3 * index[3 * f + 2]!;
    const ux = place[b]! - place[a]!,
      uy = place[b + 1]! - place[a + 1]!,
      uz = place[b + 2]! - place[a + 2]!;
    const vx = place[c]! - place[a]!,
      vy = place[c + 1]! - place[a + 1]!,
      vz = place[c + 2]! - place[a + 2]!;
    const x = uy * vz - uz * vy,
      y = uz * vx - ux * vz,
      z = ux * vy - uy * vx;
    normal[3 * f] = x;
    normal[3 * f + 1] = y;
    normal[3 * f + 2] = z;
    length[f] = Math.sqrt(x * x + y * y + z * z);
    for (let k = 0; k < 3; k++) first[index[3 * f + k]! + 1]!++;
  }
  for (let v = 0; v < vertices; v++) first[v + 1]! += first[v]!;
  const corners = new Uint32Array(index.length), // places in index, by vertex
    next = first.slice(0, vertices);
  for (let c = 0; c < index.length; c++) corners[next[index[c]!]!++] = c;

  const from: number[] = [], // of each vertex that is added, the one it doubles
    added: number[] = [], // and its normal
    onEdge: number[] = [];
  const out = new Float32Array(3 * vertices);
  // Faces about one vertex in groups, each turned little from the first of its group, its seed.
  const seed: number[] = [],
    sum: number[] = [],
    group: number[] = [];
  for (let v = 0; v < vertices; v++) {
    let count = 0;
    const begin = first[v]!,
      end = first[v + 1]!;
    for (let i = begin; i < end; i++) {
      const f = Math.floor(corners[i]! / 3),
        x = normal[3 * f]!,
        y = normal[3 * f + 1]!,
        z = normal[3 * f + 2]!;
      let g = 0;
      for (; g < count; g++) {
        const s = seed[g]!;
        const dot = x * normal[3 * s]! + y * normal[3 * s + 1]! + z * normal[3 * s + 2]!;
        if (dot >= alike * length[f]! * length[s]!) break;
      }
      if (g === count) {
        seed[count++] = f;
        sum[3 * g] = sum[3 * g + 1] = sum[3 * g + 2] = 0;
      }
      sum[3 * g]! += x;
      sum[3 * g + 1]! += y;
      sum[3 * g + 2]! += z;
      group[i - begin] = g;
    }
    if (count > 1) onEdge.push(v);
    const doubled = vertices + from.length - 1; // of group 1, less one
    for (let g = 0; g < count; g++) {
      const x = sum[3 * g]!,
        y = sum[3 * g + 1]!,
        z = sum[3 * g + 2]!;
      const size = Math.sqrt(x * x + y * y + z * z) || 1;
      if (g === 0) {
        out[3 * v] = x / size;
        out[3 * v + 1] = y / size;
        out[3 * v + 2] = z / size;
      } else {
        from.push(v);
        added.push(x / size, y / size, z / size);
      }
    }
    for (let i = begin; count > 1 && i < end; i++)
      if (group[i - begin]! > 0) index[corners[i]!] = doubled + group[i - begin]!;
  }
  geometry.userData.doubled = Uint32Array.from(from);
  for (const [name, attribute] of Object.entries(geometry.attributes)) {
    if (name === 'normal') continue;
    const { array, itemSize, normalized } = attribute as BufferAttribute;
    const kind = array.constructor as new (size: number) => typeof array;
    const longer = new kind(array.length + itemSize * from.length);
    longer.set(array as never);
    for (let i = 0, to = array.length; i < from.length; i++)
      for (let k = 0; k < itemSize; k++) longer[to++] = array[itemSize * from[i]! + k]!;
    geometry.setAttribute(name, new BufferAttribute(longer, itemSize, normalized));
  }
  const all = new Float32Array(out.length + added.length);
  all.set(out);
  all.set(added, out.length);
  geometry.setAttribute('normal', new BufferAttribute(all, 3));
  geometry.setIndex(new BufferAttribute(index, 1));
  colourSides(geometry, index, onEdge, first, corners);
}

// One value a vertex of the surface, with those of the vertices that were doubled behind them.
export function withDoubled(values: Float32Array, geometry: BufferGeometry): Float32Array {
  const doubled = geometry.userData.doubled as Uint32Array | undefined;
  if (!doubled) return values;
  const all = new Float32Array(values.length + doubled.length);
  all.set(values);
  for (let i = 0; i < doubled.length; i++) all[values.length + i] = values[doubled[i]!]!;
  return all;
}

// The latest motion of a side's faces counts, vertices on edges left out; a side of nothing else keeps what it has.
function colourSides(
  geometry: BufferGeometry,
  index: Uint32Array,
  onEdge: number[],
  first: Uint32Array,
  corners: Uint32Array,
) {
  const madeBy = geometry.getAttribute('madeBy')?.array as Uint32Array | undefined;
  if (!madeBy) return;
  const edge = new Uint8Array(madeBy.length);
  for (const v of onEdge) edge[v] = 1;
  edge.fill(1, madeBy.length - (geometry.userData.doubled as Uint32Array).length);
  // Beside an edge the grid may name a vertex after the other side: one whose neighbours all say the same is theirs.
  const [none, several] = [-1, -2];
  const others = new Int32Array(edge.length).fill(none),
    beside = new Uint8Array(edge.length);
  for (let c = 0; c < index.length; c++) {
    const v = index[c]!;
    if (edge[v]) continue;
    const face = c - (c % 3);
    for (let k = 1; k < 3; k++) {
      const w = index[face + ((c + k) % 3)]!;
      if (edge[w]) beside[v] = 1;
      else if (others[v] === none) others[v] = madeBy[w]!;
      else if (others[v] !== madeBy[w]) others[v] = several;
    }
  }
  for (let v = 0; v < beside.length; v++) if (beside[v] && others[v]! >= 0) madeBy[v] = others[v]!;
  const latest = others.fill(none);
  for (const v of onEdge)
    for (let i = first[v]!; i < first[v + 1]!; i++) {
      const c = corners[i]!,
        side = index[c]!; // v or what doubles it
      for (let k = c - (c % 3), end = k + 3; k < end; k++)
        if (!edge[index[k]!]) latest[side] = Math.max(latest[side]!, madeBy[index[k]!]!);
    }
  for (let v = 0; v < latest.length; v++) if (latest[v]! >= 0) madeBy[v] = latest[v]!;
}

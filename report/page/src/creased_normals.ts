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
    const [a, b, c] = [3 * index[3 * f]!, 3 * index[3 * f + 1]!, 3 * index[3 * f + 2]!];
    const [ux, uy, uz] = [0, 1, 2].map((k) => place[b + k]! - place[a + k]!) as [number, number, number];
    const [vx, vy, vz] = [0, 1, 2].map((k) => place[c + k]! - place[a + k]!) as [number, number, number];
    const n = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
    normal.set(n, 3 * f);
    length[f] = Math.hypot(n[0]!, n[1]!, n[2]!);
    for (let k = 0; k < 3; k++) first[index[3 * f + k]! + 1]!++;
  }
  for (let v = 0; v < vertices; v++) first[v + 1]! += first[v]!;
  const corners = new Uint32Array(index.length), // places in index, by vertex
    next = first.slice(0, vertices);
  for (let c = 0; c < index.length; c++) corners[next[index[c]!]!++] = c;

  const made: { from: number; normal: [number, number, number] }[] = [];
  const groupsOf: number[][][] = []; // of vertices on edges, the corners of each group
  const onEdge: number[] = [];
  const out = new Float32Array(3 * vertices);
  const unit = ([x, y, z]: [number, number, number]): [number, number, number] => {
    const size = Math.hypot(x, y, z) || 1;
    return [x / size, y / size, z / size];
  };
  for (let v = 0; v < vertices; v++) {
    // Faces about the vertex in groups, each turned little from the first of its group.
    const groups: { seed: number; sum: [number, number, number]; at: number[] }[] = [];
    for (let i = first[v]!; i < first[v + 1]!; i++) {
      const c = corners[i]!,
        f = Math.floor(c / 3),
        [x, y, z] = [normal[3 * f]!, normal[3 * f + 1]!, normal[3 * f + 2]!];
      let group = groups.find(({ seed }) => {
        const dot = x * normal[3 * seed]! + y * normal[3 * seed + 1]! + z * normal[3 * seed + 2]!;
        return dot >= alike * length[f]! * length[seed]!;
      });
      if (!group) groups.push((group = { seed: f, sum: [0, 0, 0], at: [] }));
      group.sum[0] += x;
      group.sum[1] += y;
      group.sum[2] += z;
      group.at.push(c);
    }
    if (groups.length > 1) {
      onEdge.push(v);
      groupsOf.push(groups.map(({ at }) => at));
    }
    groups.forEach(({ sum, at }, g) => {
      if (g === 0) return out.set(unit(sum), 3 * v);
      for (const c of at) index[c] = vertices + made.length;
      made.push({ from: v, normal: unit(sum) });
    });
  }
  for (const [name, attribute] of Object.entries(geometry.attributes)) {
    if (name === 'normal') continue;
    const { array, itemSize, normalized } = attribute as BufferAttribute;
    const kind = array.constructor as new (size: number) => typeof array;
    const longer = new kind(array.length + itemSize * made.length);
    longer.set(array as never);
    made.forEach(({ from }, i) => {
      for (let k = 0; k < itemSize; k++)
        longer[itemSize * (vertices + i) + k] = array[itemSize * from + k]!;
    });
    geometry.setAttribute(name, new BufferAttribute(longer, itemSize, normalized));
  }
  const all = new Float32Array(out.length + 3 * made.length);
  all.set(out);
  made.forEach(({ normal: n }, i) => all.set(n, out.length + 3 * i));
  geometry.setAttribute('normal', new BufferAttribute(all, 3));
  geometry.setIndex(new BufferAttribute(index, 1));
  geometry.userData.doubled = Uint32Array.from(made, ({ from }) => from);
  colourSides(geometry, index, onEdge, groupsOf);
}

// One value a vertex of the surface, with those of the vertices that were doubled behind them.
export function withDoubled(values: Float32Array, geometry: BufferGeometry): Float32Array {
  const doubled = geometry.userData.doubled as Uint32Array | undefined;
  if (!doubled) return values;
  const all = new Float32Array(values.length + doubled.length);
  all.set(values);
  doubled.forEach((from, i) => (all[values.length + i] = values[from]!));
  return all;
}

// The latest motion of a side's faces counts, vertices on edges left out; a side of nothing else keeps what it has.
function colourSides(geometry: BufferGeometry, index: Uint32Array, onEdge: number[], groupsOf: number[][][]) {
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
    for (const k of [1, 2]) {
      const w = index[c - (c % 3) + ((c + k) % 3)]!;
      if (edge[w]) beside[v] = 1;
      else if (others[v] === none) others[v] = madeBy[w]!;
      else if (others[v] !== madeBy[w]) others[v] = several;
    }
  }
  beside.forEach((is, v) => {
    if (is && others[v]! >= 0) madeBy[v] = others[v]!;
  });
  for (const groups of groupsOf)
    for (const corners of groups) {
      let latest = -1;
      for (const c of corners)
        for (let k = 3 * Math.floor(c / 3), end = k + 3; k < end; k++)
          if (!edge[index[k]!]) latest = Math.max(latest, madeBy[index[k]!]!);
      if (latest >= 0) madeBy[index[corners[0]!]!] = latest;
    }
}

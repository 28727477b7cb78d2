// Normals of the stock's surface (report/page/src/creased_normals.ts): each face's own along edges, a ball's towards its
// middle where faces turn little; closed forms of a box and a ball.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { bundled } from './bundled.mjs';

const { addCreasedNormals, withDoubled, BufferAttribute, BufferGeometry } = await bundled(
  "export * from './src/creased_normals.ts'; export { BufferAttribute, BufferGeometry } from 'three';",
);

function geometryOf(places, triangles) {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(Float32Array.from(places.flat()), 3));
  geometry.setAttribute('madeBy', new BufferAttribute(Uint32Array.from(places, (_, i) => i), 1));
  geometry.setIndex(new BufferAttribute(Uint32Array.from(triangles.flat()), 1));
  return geometry;
}

test('a box has each face its own normal, and says which corners stand for which', () => {
  const places = [...Array(8).keys()].map((k) => [k & 1, (k >> 1) & 1, k >> 2].map((v) => 3 * v));
  const quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
  const geometry = geometryOf(places, quads.flatMap(([a, b, c, d]) => [[a, b, c], [a, c, d]]));
  const shared = geometry.getIndex().array;
  const before = shared.slice();
  addCreasedNormals(geometry);
  assert.deepEqual(shared, before, 'the triangles that others read stay as they are');
  const index = geometry.getIndex().array;
  const [place, normal, madeBy] = ['position', 'normal', 'madeBy'].map((n) => geometry.getAttribute(n).array);
  assert.equal(place.length / 3, 24);
  const marked = withDoubled(Float32Array.from(places, (_, i) => 10 * i), geometry);
  for (let f = 0; f < 12; f++) {
    const quad = quads[f >> 1];
    const p = [0, 1, 2].map((k) => [...place.slice(3 * index[3 * f + k], 3 * index[3 * f + k] + 3)]);
    const axis = [0, 1, 2].find((k) => p[0][k] === p[1][k] && p[1][k] === p[2][k]);
    const outwards = [0, 1, 2].map((k) => (k === axis ? (p[0][axis] > 0 ? 1 : -1) : 0));
    for (let k = 0; k < 3; k++) {
      const v = index[3 * f + k];
      assert.deepEqual([...normal.slice(3 * v, 3 * v + 3)].map((x) => x + 0), outwards);
      assert.ok(quad.includes(madeBy[v]));
      assert.equal(marked[v], 10 * madeBy[v]);
    }
  }
});

test('a ball stays smooth: no vertex is doubled, normals lead away from its middle', () => {
  const rows = 24, columns = 48, places = [[0, 0, 5]], triangles = [];
  for (let i = 1; i < rows; i++)
    for (let j = 0; j < columns; j++) {
      const a = (Math.PI * i) / rows, b = (2 * Math.PI * j) / columns;
      places.push([5 * Math.sin(a) * Math.cos(b), 5 * Math.sin(a) * Math.sin(b), 5 * Math.cos(a)]);
    }
  places.push([0, 0, -5]);
  const at = (i, j) => (i === 0 ? 0 : i === rows ? places.length - 1 : 1 + (i - 1) * columns + (j % columns));
  for (let i = 0; i < rows; i++)
    for (let j = 0; j < columns; j++) {
      if (i > 0) triangles.push([at(i, j), at(i + 1, j), at(i, j + 1)]);
      if (i + 1 < rows) triangles.push([at(i, j + 1), at(i + 1, j), at(i + 1, j + 1)]);
    }
  const geometry = geometryOf(places, triangles);
  addCreasedNormals(geometry);
  const normal = geometry.getAttribute('normal').array;
  assert.equal(normal.length / 3, places.length);
  places.forEach((p, v) => {
    const along = [0, 1, 2].reduce((sum, k) => sum + (p[k] / 5) * normal[3 * v + k], 0);
    assert.ok(along > 0.995, `vertex ${v}: ${along}`);
  });
});

// A block's top, of the blank (0), with a wall that motion 7 cut along x = 4: the edge's vertices are named after either,
// and so is one on the top beside the edge.
test('at an edge each side has the motion of its own faces', () => {
  const places = [],
    triangles = [],
    by = [];
  const n = 5;
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) (places.push([i, j, 0]), by.push(i === 4 ? (j % 2 ? 7 : 0) : 0));
  for (let k = 1; k < n; k++) for (let j = 0; j < n; j++) (places.push([4, j, -k]), by.push(7));
  by[3 * n + 2] = 7;
  const top = (i, j) => i * n + j,
    wall = (k, j) => (k === 0 ? top(4, j) : n * n + (k - 1) * n + j);
  for (let a = 0; a < n - 1; a++)
    for (let j = 0; j < n - 1; j++) {
      triangles.push([top(a, j), top(a + 1, j), top(a + 1, j + 1)], [top(a, j), top(a + 1, j + 1), top(a, j + 1)]);
      triangles.push([wall(a, j), wall(a + 1, j), wall(a + 1, j + 1)], [wall(a, j), wall(a + 1, j + 1), wall(a, j + 1)]);
    }
  const geometry = geometryOf(places, triangles);
  geometry.setAttribute('madeBy', new BufferAttribute(Uint32Array.from(by), 1));
  geometry.setAttribute('since', new BufferAttribute(Uint32Array.from(by), 1));
  addCreasedNormals(geometry);
  const index = geometry.getIndex().array;
  const [madeBy, since, normal] = ['madeBy', 'since', 'normal'].map((name) => geometry.getAttribute(name).array);
  for (const v of index) assert.equal(madeBy[v], Math.abs(normal[3 * v + 2]) > 0.5 ? 0 : 7, `vertex ${v}`);
  // When a triangle is there is another matter: that stays as the grid has it.
  assert.deepEqual([...since.slice(0, by.length)], by);
  // Two motions on one face, no edge between them: both stay.
  const flat = geometryOf(places.slice(0, n * n), triangles.filter((t) => t.every((v) => v < n * n)));
  const halves = Uint32Array.from({ length: n * n }, (_, v) => (v < 12 ? 3 : 9));
  flat.setAttribute('madeBy', new BufferAttribute(halves.slice(), 1));
  addCreasedNormals(flat);
  assert.deepEqual([...flat.getAttribute('madeBy').array], [...halves]);
});

// What lies in the shade (report/page/src/occlusion.ts) against closed forms: the share of a half space and of a
// corner's three quarters under the product of triangles that averaging twice makes.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { bundled } from './bundled.mjs';

const { occlusionOf } = await bundled("export * from './src/occlusion.ts';");

// A prism along y whose section, x and z in turn, goes round once.
function prism(section, long) {
  const n = section.length / 2,
    places = [],
    triangles = [];
  for (const y of [0, long]) for (let i = 0; i < n; i++) places.push(section[2 * i], y, section[2 * i + 1]);
  for (let i = 0; i < n; i++) {
    const k = (i + 1) % n;
    triangles.push(i, k, n + k, i, n + k, n + i);
  }
  // Only what columns along z cross has to be there: the ends stand upright.
  return { vertices: Float32Array.from(places), triangles: Uint32Array.from(triangles), madeBy: new Uint32Array(2 * n) };
}
function reader({ origin, step, count, values }) {
  return (place) => {
    const q = place.map((v, k) => (v - origin[k]) / step - 0.5);
    let sum = 0;
    for (let c = 0; c < 8; c++) {
      let weight = 1 / 255,
        at = 0;
      for (let k = 2; k >= 0; k--) {
        const low = Math.floor(q[k]),
          up = (c >> k) & 1;
        weight *= up ? q[k] - low : 1 - (q[k] - low);
        at = at * count[k] + low + up;
      }
      sum += weight * values[at];
    }
    return sum;
  };
}
// Share of the triangle of half width 5 cells that lies below a place so many cells from its middle.
const below = (t) => (t <= -5 ? 0 : t >= 5 ? 1 : t < 0 ? (1 + t / 5) ** 2 / 2 : 1 - (1 - t / 5) ** 2 / 2);

for (const [x, z] of [
  [60, 40],
  [71.3, 33.7],
]) {
  test(`an L, its wall at ${x / 2}, its floor at ${z / 2}`, () => {
    const wall = x / 2,
      floor = z / 2,
      long = 50;
    const of = occlusionOf(prism([0, 0, x, 0, x, floor, wall, floor, wall, z, 0, z], long), [0, 0, 0], [x, long, z]);
    const share = reader(of);
    const { step } = of;
    for (const cells of [-6, -2, 0, 2.5, 4, 6]) {
      const open = share([0.8 * x, long / 2, floor + cells * step]);
      assert.ok(Math.abs(open - below(-cells)) < 0.03, `${cells} above the floor: ${open}, ${below(-cells)}`);
      for (const aside of [0, 1.5, 3, 5]) {
        const found = share([wall + aside * step, long / 2, floor + cells * step]);
        const truth = 1 - (1 - below(-cells)) * (1 - below(-aside));
        assert.ok(Math.abs(found - truth) < 0.06, `${cells}, ${aside}: ${found}, ${truth}`);
      }
    }
    // Outside of the box there is none.
    assert.equal(share([0.8 * x, long / 2, z + 4.4 * step]), 0);
  });
}

// Distances between two surfaces (report/page/src/nearest.ts, difference.ts) against closed forms: blocks whose faces are
// rectangles along the axes, where the nearest place of each rectangle is found by clamping.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { bundled } from './bundled.mjs';

const { Nearest, differenceOf, mostWords, reach } = await bundled(
  "export * from './src/nearest.ts'; export * from './src/difference.ts';",
);

// A block with a slot along y, from x0 to x1 and down to z0: its section as a polygon, seen along -y, counter-clockwise.
const section = (x0, x1, z0) => [[0, 0], [20, 0], [20, 10], [x1, 10], [x1, z0], [x0, z0], [x0, 10], [0, 10]];
const inside = (poly, [x, y, z]) => {
  if (y <= 0 || y >= 12) return false;
  let odd = false;
  poly.forEach(([ax, az], i) => {
    const [bx, bz] = poly[(i + 1) % poly.length];
    if (az > z !== bz > z && x < ax + ((z - az) / (bz - az)) * (bx - ax)) odd = !odd;
  });
  return odd;
};
const box = (low, high) => (p) => Math.hypot(...p.map((v, k) => v - Math.min(high[k], Math.max(low[k], v))));
function rectangles(x0, x1, z0) {
  const poly = section(x0, x1, z0);
  const walls = poly.map(([ax, az], i) => {
    const [bx, bz] = poly[(i + 1) % poly.length];
    return [[Math.min(ax, bx), 0, Math.min(az, bz)], [Math.max(ax, bx), 12, Math.max(az, bz)]];
  });
  const ends = [0, 12].flatMap((y) => [
    [[0, y, 0], [20, y, z0]],
    [[0, y, z0], [x0, y, 10]],
    [[x1, y, z0], [20, y, 10]],
  ]);
  return [...walls, ...ends];
}
const exact = (x0, x1, z0) => {
  const all = rectangles(x0, x1, z0).map(([low, high]) => box(low, high)),
    poly = section(x0, x1, z0);
  return (p) => Math.min(...all.map((of) => of(p))) * (inside(poly, p) ? -1 : 1);
};
// The same as triangles of about `wide` mm, faces outwards.
function mesh(x0, x1, z0, wide) {
  const vertices = [], triangles = [];
  const poly = section(x0, x1, z0);
  for (const [low, high] of rectangles(x0, x1, z0)) {
    const axis = [0, 1, 2].find((a) => low[a] === high[a]);
    const [u, v] = [0, 1, 2].filter((a) => a !== axis);
    const [nu, nv] = [u, v].map((a) => Math.ceil((high[a] - low[a]) / wide));
    const at = (i, j) => {
      const p = [...low];
      p[u] += ((high[u] - low[u]) * i) / nu;
      p[v] += ((high[v] - low[v]) * j) / nv;
      return p;
    };
    const ahead = low.map((l, a) => (a === axis ? l + 1e-3 : (l + high[a]) / 2));
    const outwards = inside(poly, ahead) ? -1 : 1; // along the axis
    const turned = (axis === 1 ? -1 : 1) * outwards > 0;
    for (let i = 0; i < nu; i++)
      for (let j = 0; j < nv; j++) {
        const corners = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
        const n = vertices.length / 3;
        vertices.push(...corners.flat());
        const [b, d] = turned ? [1, 3] : [3, 1];
        triangles.push(n, n + b, n + 2, n, n + 2, n + d);
      }
  }
  return { vertices: Float32Array.from(vertices), triangles: Uint32Array.from(triangles) };
}
let seed = 7;
const random = () => (seed = (seed * 48271) % 2147483647) / 2147483647;

for (const wide of [0.4, 3, 50])
  test(`distances of a slotted block, triangles of ${wide} mm`, () => {
    const { vertices, triangles } = mesh(6, 13, 4, wide);
    const near = new Nearest(vertices, triangles, 3),
      truth = exact(6, 13, 4);
    let [within, beyond] = [0, 0];
    for (let i = 0; i < 4000; i++) {
      // Some square above edges and corners, where several triangles are as near.
      const p = [24, 16, 14].map((s) => (i % 3 ? random() * s - 2 : Math.round(random() * s) - 2));
      const is = truth(p),
        said = near.at(...p);
      if (Math.abs(is) > 3 + 1e-6) {
        assert.equal(said, null, `${p}`);
        beyond++;
      } else if (Math.abs(is) < 3 - 1e-6) {
        assert.ok(Math.abs(said - is) < 1e-5, `${p}: ${said} for ${is}`);
        within++;
      }
    }
    assert.ok(within > 1000 && beyond > 10, `${within} and ${beyond}`);
  });

test('the difference of two blocks, at their surfaces and at any place', async () => {
  const one = mesh(6, 13, 4, 0.5),
    other = mesh(6, 13.4, 3.2, 0.5),
    truth = exact(6, 13.4, 3.2);
  const found = await differenceOf(one.vertices, [20, 12, 10], other, async () => 0);
  found.atEnd.forEach((mm, i) => {
    const p = [...one.vertices.subarray(3 * i, 3 * i + 3)];
    assert.ok(Math.abs(mm - truth(p)) < 1e-5, `${p}: ${mm}`);
  });
  // This one's slot is narrower by 0.4 and less deep by 0.8: more is left of it, and nowhere less.
  assert.ok(Math.abs(found.more - 0.8) < 1e-5 && found.less < 1e-5, `${found.more}, ${found.less}`);
  const { origin, step, count, values } = found.field;
  for (let i = 0; i < 2000; i++) {
    const c = count.map((n) => Math.floor(random() * n));
    const is = truth(c.map((k, a) => origin[a] + k * step)),
      said = values[(c[2] * count[1] + c[1]) * count[0] + c[0]];
    const far = reach + 2 * step;
    // Beside the surface exactly; a far place may be told a little further off (difference.ts).
    const off = Math.abs(said - Math.max(-far, Math.min(far, is)));
    assert.ok(off < (Math.abs(is) < step ? 1e-4 : 0.1 * step), `${c}: ${said} for ${is}`);
  }
});

test('what is further off than is looked for is told on its side', async () => {
  const thick = mesh(6, 13, 1, 4),
    thin = mesh(6, 13, 8, 4);
  const less = await differenceOf(thick.vertices, [20, 12, 10], thin, async () => 0);
  const more = await differenceOf(thin.vertices, [20, 12, 10], thick, async () => 0);
  assert.equal(less.less, reach);
  assert.equal(more.more, reach);
});

test('what differs by all that is looked at is told as that or more, never as the most there is', () => {
  assert.equal(reach, 2);
  assert.equal(mostWords({ more: 0.5, less: 2 }), 'up to 0.500 mm more is left, at least 2 mm less');
  assert.equal(mostWords({ more: 2, less: 1.9996 }), 'at least 2 mm more is left, up to 2.000 mm less');
});

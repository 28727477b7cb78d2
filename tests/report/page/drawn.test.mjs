// Where drawing is slow the picture is coarse while it moves and whole once it stands; in how many pieces it is drawn
// changes no pixel. Coarse meshes against closed forms of a wavy floor with a step.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { bundled } from './bundled.mjs';
import { choose, press, slideTo, timeOfLine, whole } from './browser.mjs';
import { opener } from './opener.mjs';

const { using } = opener(process.env.PROVEOUT_REPORT_PART);
const { addCreasedNormals, draftOf, draftColumns, taken, BufferAttribute, BufferGeometry } = await bundled(
  "export * from './src/creased_normals.ts'; export * from './src/draft.ts'; export { BufferAttribute, BufferGeometry } from 'three';",
);

// The picture's pixels, kept in the page under a name: they are many.
const keep = (page, name) =>
  page.evaluate((as) => {
    const { canvas } = window.proveoutBench.view,
      copy = document.createElement('canvas');
    [copy.width, copy.height] = [canvas.width, canvas.height];
    const context = copy.getContext('2d');
    context.drawImage(canvas, 0, 0);
    window[as] = context.getImageData(0, 0, copy.width, copy.height).data;
  }, name);
// As many corners of triangles a piece as are given, from now on until the next picture is measured.
const drawnIn = (page, corners) =>
  page.evaluate(async (n) => {
    const { view } = window.proveoutBench,
      states = [];
    const watch = new MutationObserver(() => states.push(view.canvas.dataset.drawn));
    watch.observe(view.canvas, { attributes: true, attributeFilter: ['data-drawn'] });
    view.painter.corners = n;
    view.draw();
    while (view.canvas.dataset.drawn !== 'whole' || states.length === 0) await new Promise((r) => setTimeout(r, 10));
    watch.disconnect();
    return states;
  }, corners);

test('pieces make the picture that is drawn at once, and before it a coarse one is seen', () =>
  using({}, async (page) => {
    const places = [
      [0, null],
      [0, await timeOfLine(page, 0, 15, 0.5)],
      [1, null],
    ];
    for (const [setup, time] of places) {
      await press(page, `Setup ${'AB'[setup]}`);
      if (time !== null) await slideTo(page, time);
      await page.waitForTimeout(700); // shading comes later
      await whole(page);
      for (const section of ['none', 'y']) {
        await choose(page, 'Section', section);
        await whole(page);
        const once = await drawnIn(page, 1e9);
        assert.ok(!once.includes('coarse'), `${once}`);
        await keep(page, 'atOnce');
        const pieces = await drawnIn(page, 3000);
        assert.ok(pieces.includes('coarse'), `${pieces}`);
        await keep(page, 'inPieces');
        const [length, differ] = await page.evaluate(() => {
          const { atOnce, inPieces } = window;
          let count = atOnce.length === inPieces.length ? 0 : Infinity;
          for (let i = 0; i < atOnce.length; i++) if (atOnce[i] !== inPieces[i]) count++;
          return [atOnce.length, count];
        });
        assert.equal(differ, 0, `${differ} of ${length} values, setup ${setup}, ${time}, ${section}`);
      }
    }
  }));

test('the coarse picture shows what the whole one shows', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await page.waitForTimeout(700);
    await whole(page);
    await keep(page, 'fine');
    // Held coarse: moved again and again.
    await page.evaluate(() => {
      const { painter } = window.proveoutBench.view;
      painter.corners = 0;
      painter.finely = () => undefined;
      window.proveoutBench.view.draw();
    });
    await page.waitForFunction(() => window.proveoutBench.view.canvas.dataset.drawn === 'coarse');
    await page.waitForTimeout(300);
    await keep(page, 'coarse');
    // At every tenth place the colours are alike, but for edges, lines and lettering.
    const [far, all] = await page.evaluate(() => {
      const { fine, coarse } = window,
        { canvas } = window.proveoutBench.view,
        [wide, tall] = [canvas.clientWidth, canvas.clientHeight],
        share = canvas.width / wide;
      let [different, places] = [0, 0];
      for (let y = 5; y < tall - 5; y += 10)
        for (let x = 5; x < wide - 5; x += 10) {
          const a = 4 * (y * wide + x),
            b = 4 * (Math.floor(y * share) * canvas.width + Math.floor(x * share));
          places++;
          if ([0, 1, 2].some((k) => Math.abs(fine[a + k] - coarse[b + k]) > 60)) different++;
        }
      return [different, places];
    });
    assert.ok(far < 0.03 * all, `${far} of ${all}`);
  }));

// A floor of n x n cells of a tenth of a mm, with a step of 2 mm at x = step.
function stepped(n, step) {
  const places = [],
    triangles = [];
  const at = (x, y, z) => places.push(x, y, z) / 3 - 1;
  const sheet = (x0, x1, y1, z) => {
    const across = Math.round((x1 - x0) * 10);
    const first = places.length / 3;
    for (let j = 0; j <= y1 * 10; j++) for (let i = 0; i <= across; i++) at(x0 + i / 10, j / 10, z);
    for (let j = 0; j < y1 * 10; j++)
      for (let i = 0; i < across; i++) {
        const a = first + j * (across + 1) + i,
          b = a + across + 1;
        triangles.push(a, a + 1, b + 1, a, b + 1, b);
      }
    return [first, across + 1];
  };
  const [low, wide] = sheet(0, step, n / 10, 0),
    [high, wider] = sheet(step, n / 10, n / 10, 2);
  for (let j = 0; j < n; j++) {
    const a = low + j * wide + wide - 1,
      b = high + j * wider;
    triangles.push(a, b, b + wider, a, b + wider, a + wide);
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(Float32Array.from(places), 3));
  for (const name of ['madeBy', 'since'])
    geometry.setAttribute(name, new BufferAttribute(Uint32Array.from({ length: places.length / 3 }, (_, v) => v), 1));
  geometry.setIndex(new BufferAttribute(Uint32Array.from(triangles), 1));
  addCreasedNormals(geometry);
  return geometry;
}

test('a coarse mesh keeps faces where they are, edges sharp, and what made each', () => {
  const n = 200,
    step = 7.3;
  const fine = stepped(n, step),
    draft = draftOf(fine);
  const count = draft.getIndex().count / 3;
  assert.ok(count < 16000 && count > 4000, `${count} triangles`);
  const [place, normal, madeBy] = ['position', 'normal', 'madeBy'].map((of) => draft.getAttribute(of).array);
  const own = fine.getAttribute('madeBy').array;
  let area = 0;
  const index = draft.getIndex().array;
  for (let c = 0; c < index.length; c += 3) {
    const [a, b, d] = [0, 1, 2].map((k) => [...place.subarray(3 * index[c + k], 3 * index[c + k] + 3)]);
    const u = b.map((v, k) => v - a[k]),
      w = d.map((v, k) => v - a[k]);
    area += Math.hypot(u[1] * w[2] - u[2] * w[1], u[2] * w[0] - u[0] * w[2], u[0] * w[1] - u[1] * w[0]) / 2;
  }
  // Two levels and a wall of 2 mm between them: what is lost lies within a coarse cell of the rim.
  const exact = (n / 10) ** 2 + 2 * (n / 10);
  assert.ok(Math.abs(area - exact) < 0.04 * exact, `${area} for ${exact} mm2`);
  for (let v = 0; v < place.length / 3; v++) {
    const [x, , z] = place.subarray(3 * v, 3 * v + 3);
    assert.ok(Math.abs(z) < 1e-6 || Math.abs(z - 2) < 1e-6, `z ${z}`); // no vertex that the fine mesh has not
    const upright = Math.abs(normal[3 * v + 2]),
      aside = Math.abs(normal[3 * v]);
    assert.ok(upright > 0.999 || (aside > 0.999 && Math.abs(x - step) < 1e-4), `normal at x ${x}`);
  }
  assert.deepEqual([...madeBy], [...taken(own, draft)]);
});

test('a small mesh is drawn as it is, and coarse columns reach to the last one', () => {
  assert.equal(draftOf(stepped(20, 1)), undefined);
  const [nx, ny] = [402, 251];
  const draft = draftColumns(new BufferGeometry().setAttribute('position', new BufferAttribute(new Float32Array(3), 3)), nx, ny);
  const index = draft.getIndex().array;
  const [xs, ys] = [new Set(), new Set()];
  for (const c of index) {
    xs.add(c % nx);
    ys.add(Math.floor(c / nx));
  }
  for (const [set, most] of [[xs, nx], [ys, ny]]) {
    assert.ok(set.has(0) && set.has(most - 1));
    const gaps = [...set].sort((a, b) => a - b).map((v, k, all) => v - (all[k - 1] ?? v));
    assert.ok(Math.max(...gaps) <= 5, `${Math.max(...gaps)}`);
  }
  assert.equal(index.length, 6 * (xs.size - 1) * (ys.size - 1));
  assert.equal(draftColumns(draft, 60, 40), undefined);
});

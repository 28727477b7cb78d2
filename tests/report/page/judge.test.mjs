// What one judges a part by, read from the picture's pixels and the page's words: job/part.toml, as in shown.test.mjs.
import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { choose, clickOn, pixels, press, slideTo, timeOfLine } from './browser.mjs';
import { opener } from './opener.mjs';

const { using } = opener(process.env.PROVEOUT_REPORT_PART);
// The same page with other data.
const altered = async (change, work) => {
  const own = readFileSync(process.env.PROVEOUT_REPORT_PART, 'utf8'),
    begins = '<script type="application/json" id="about">',
    from = own.indexOf(begins) + begins.length,
    to = own.indexOf('</script>', from);
  const about = JSON.parse(own.slice(from, to));
  change(about);
  const file = join(mkdtempSync(join(tmpdir(), 'proveout-page-')), 'report.html');
  writeFileSync(file, own.slice(0, from) + JSON.stringify(about).replaceAll('<', '\\u003c') + own.slice(to));
  await using({ url: pathToFileURL(file).href }, work);
  rmSync(dirname(file), { recursive: true });
};
const cusps = new URL(`file://${process.env.PROVEOUT_REPORT_CUSPS}`).href;
const plain = new URL(`file://${process.env.PROVEOUT_REPORT}`).href; // a job without a part

const share = (seen, of) => seen.filter(of).length / seen.length;
const isPurple = ([r, g, b]) => b > 1.25 * g && r > 1.1 * g;
const isOrange = ([r, g, b]) => r > 1.1 * g && g > 1.1 * b;

// The part's top lies at 15.7 of 16, its tolerances are 0.25 left on and 0.05 cut into; the slot is cut 3.7 too deep.
test('only what is left, only what is missing: the rest is a ghost that cannot be clicked on', () =>
  using({}, async (page) => {
    const top = [40, 30, 0],
      floor = [50, 12, -4];
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await press(page, 'top');
    for (const [only, solid, ghost, hue] of [
      ['left', top, floor, isOrange],
      ['into', floor, top, isPurple],
    ]) {
      await choose(page, 'Shown', only);
      assert.ok(share(await pixels(page, solid, 4), hue) > 0.95, `${only}: ${solid}`);
      const seen = await pixels(page, ghost, 4);
      assert.ok(share(seen, isOrange) + share(seen, isPurple) < 0.05, `${only}: ${ghost}`);
      const alike = (a, b) => Math.hypot(...a.map((v, k) => v - b[k])) < 8;
      const ground = share(seen, (c) => alike(c, seen[1]) || alike(c, seen[2]));
      assert.ok(ground > 0.5 && ground < 1, `a ghost lets the ground through: ${ground}`);
      assert.match(await clickOn(page, solid, null), /the part/);
      assert.match(await clickOn(page, ghost, null), /Nothing there/);
    }
    await choose(page, 'Shown', 'all');
    assert.match(await clickOn(page, floor, null), /3\.70 mm cut into the part/);
    // While it is cut as well: half way along the slot there is no floor behind x = 20 yet, and the blank stands.
    await slideTo(page, await timeOfLine(page, 0, 15, 0.5));
    await choose(page, 'Shown', 'into');
    assert.match(await clickOn(page, floor, null), /cut into the part/);
    assert.match(await clickOn(page, top, null), /Nothing there/);
  }));

test('the part is seen over the stock, wherever the stock hides it, and the stock still answers', () =>
  using({}, async (page) => {
    const blue = (seen) => seen.reduce((sum, [r, , b]) => sum + b - r, 0) / seen.length;
    await press(page, 'Setup B');
    await choose(page, 'Path', 'none');
    await press(page, 'top'); // side B lies on what was the top: the part's bottom is the blank's own
    const spots = [
      [20, 30, 0],
      [45, 25, 0],
    ];
    const without = [];
    for (const at of spots) without.push(blue(await pixels(page, at, 3)));
    await choose(page, 'Shown', 'part');
    for (const [i, at] of spots.entries())
      assert.ok(blue(await pixels(page, at, 3)) > without[i] + 25, `${at}`);
    // From the front the stock's wall hides all of the part but its own; past the part's edge nothing is blue.
    const beyond = await pixels(page, [-20, 20, 0], 3);
    assert.ok(Math.abs(blue(beyond)) < 25, `beside the part: ${beyond[0]}`);
    assert.match(await clickOn(page, spots[1], null), /at\s+X4[45]\.\d+ Y2[45]\.\d+ Z-?0\.0/);
    await choose(page, 'Shown', 'all');
    for (const [i, at] of spots.entries())
      assert.ok(Math.abs(blue(await pixels(page, at, 3)) - without[i]) < 3, `${at} after`);
  }));

// Balls of radius R, s apart, leave cusps of R - sqrt(R^2 - s^2 / 4): the circle's sagitta. R is 3: 0.0606 for passes
// 1.2 apart, 0.0268 for 0.8.
test('cusps are drawn where they stand, in the colour of their height; a click tells it', () =>
  using({ url: cusps }, async (page) => {
    await choose(page, 'Path', 'none');
    await press(page, 'top');
    const near = (a, b) => Math.hypot(...a.map((v, k) => v - b[k])) < 30;
    const orange = [230, 159, 0],
      green = [0, 158, 115]; // above 0.05 and above 0.02, of the legend
    const drawn = async (x, y, hue) => (await pixels(page, [x, y, -0.25], 1)).some((c) => near(c, hue));
    assert.ok(!(await drawn(30, 14.6, orange)));
    await choose(page, 'Stock coloured by', 'finish');
    for (const x of [10, 30, 50]) {
      for (const y of [14.6, 15.8]) assert.ok(await drawn(x, y, orange), `${x} ${y}`);
      for (const y of [16.8, 17.6]) assert.ok(await drawn(x, y, green), `${x} ${y}`);
      // In a valley, and along a pass with none beside it, there is nothing to file.
      for (const y of [14, 32, 25]) {
        assert.ok(!(await drawn(x, y, orange)), `${x} ${y}`);
        assert.ok(!(await drawn(x, y, green)), `${x} ${y}`);
      }
    }
    const told = async (y) => (await clickOn(page, [30, y, -0.25], null)).match(/stands up\s+([\d.]+) mm/);
    for (const [y, s] of [
      [14.6, 1.2],
      [17.6, 0.8],
    ]) {
      const high = 3 - Math.sqrt(9 - (s * s) / 4);
      const [, mm] = await told(y);
      assert.ok(Math.abs(mm - high) < 0.002, `${mm} for ${high}`);
    }
    assert.equal(await told(32), null);
    assert.match(await page.locator('.legends').innerText(), /0\.05 mm and above/);
    // Before the second pass has gone by there is no cusp.
    await slideTo(page, await timeOfLine(page, 0, 7, 0.5));
    assert.ok(!(await drawn(30, 14.6, orange)));
  }));

// The slot of side A, 6 wide and 4 deep from y = 9 to 15: the lattice's cells are 0.63 mm, its means reach 5 of them.
test('a floor is darker at the foot of a wall, and beside an edge stands what made the face', () =>
  using({ url: plain }, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await press(page, 'top');
    await page.waitForTimeout(1000); // shading comes after the first picture
    const bright = async (at) => {
      const seen = await pixels(page, at, 1);
      return seen.flat().reduce((sum, v) => sum + v, 0) / seen.length / 3;
    };
    const [middle, foot] = [await bright([40, 12, -4]), await bright([40, 9.25, -4])];
    assert.ok(foot < 0.85 * middle && foot > 0.4 * middle, `${foot} beside ${middle}`);
    const [open, far] = [await bright([40, 35, 0]), await bright([20, 36, 0])];
    assert.ok(Math.abs(open - far) < 3, `a plain face is even: ${open}, ${far}`);
    // 0.1 from the edge, within one cell of it: the blank's own face on one side, the slot's floor on the other.
    for (const x of [12.3, 25.1, 40, 47.7]) {
      assert.match(await clickOn(page, [x, 8.9, 0], null), /own surface/, `${x}`);
      assert.match(await clickOn(page, [x, 9.1, -4], null), /line 1[0-9]/, `${x}`);
    }
  }));

// Times are rounded on their way into the page: the last thousandth of a short motion may lie in the next one.
test('every motion can be gone to, whatever rounding makes of its times', () =>
  using({}, async (page) => {
    const missed = await page.evaluate(() =>
      window.proveoutBench.motions.flatMap((of, s) =>
        Array.from({ length: of.count }, (_, m) => m)
          .filter((m) => of.timeS[m] > 0.0006)
          .flatMap((m) => [0, 0.5, 0.999, 1].filter((share) => of.indexAt(of.momentOf(m, share)) !== m).map((share) => [s, m, share])),
      ),
    );
    assert.deepEqual(missed, []);
  }));

test('without a part nothing is offered to be shown alone', () =>
  using({ url: plain }, async (page) => {
    assert.equal(await page.getByLabel('Shown', { exact: true }).count(), 0);
  }));

test('a click tells how thick the material is there, square to the surface', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    for (const [place, mm] of [
      [[40, 30, 0], 16],
      [[50, 12, -4], 12],
    ]) {
      const said = await clickOn(page, place);
      const thick = Number(said.match(/thick\s+([\d.]+) mm/)[1]);
      assert.ok(Math.abs(thick - mm) < 0.05, `${thick} for ${mm}: ${said}`);
    }
    // The wall between the slot's edge, at y = 9, and the front: 9 mm, seen from the front.
    const wall = (await clickOn(page, [40, 0, -2], 'front')).match(/thick\s+([\d.]+) mm/);
    assert.ok(Math.abs(wall[1] - 9) < 0.05, wall[0]);
    // While it is cut the columns do not know what lies beneath: nothing is said.
    await slideTo(page, await timeOfLine(page, 0, 15, 0.5));
    assert.doesNotMatch(await clickOn(page, [50, 12, -4]), /thick/);
  }));

// Which way axes point on the screen when the work is looked at from a side: right-handed axes, z up (ISO 841), by hand.
test('views along an axis are parallel, and their axes bear letters', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    const hues = { X: ([r, g, b]) => r > 170 && g < 130 && b < 70, Y: ([r, g, b]) => g > 130 && r < 60 && b < 150, Z: ([r, g, b]) => b > 140 && r < 60 };
    const ways = {
      top: { X: [1, 0], Y: [0, -1] },
      front: { X: [1, 0], Z: [0, -1] },
      back: { X: [-1, 0], Z: [0, -1] },
      left: { Y: [-1, 0], Z: [0, -1] },
      right: { Y: [1, 0], Z: [0, -1] },
    };
    for (const [look, axes] of Object.entries(ways)) {
      await press(page, look);
      for (const [letter, way] of Object.entries(axes)) {
        const end = ['X', 'Y', 'Z'].map((l) => (l === letter ? (60 / 8) * 1.15 : 0)); // 60: the blank's longest side
        const told = await page.evaluate(
          ([a, far]) => [[0, 0, 0], a, far, a.map((v, k) => v + far[k])].map((p) => window.proveoutBench.project(p)),
          [end, [0, 40, -16].map((v, k) => (end[k] ? 0 : v))],
        );
        const [zero, at, there, thereAt] = told;
        const along = [at.x - zero.x, at.y - zero.y],
          length = Math.hypot(...along);
        way.forEach((v, k) => assert.ok(Math.abs(along[k] / length - v) < 0.01, `${look} ${letter}: ${along}`));
        // Parallel: as long, and pointing the same way, at the blank's other side.
        const other = Math.hypot(thereAt.x - there.x, thereAt.y - there.y);
        assert.ok(Math.abs(other / length - 1) < 0.02, `${look} ${letter}: ${length} and ${other}`);
        const seen = (await pixels(page, end, 14)).filter(hues[letter]).length;
        assert.ok(seen > 12, `${look}: ${seen} pixels of ${letter}`);
      }
    }
  }));

// within: the data's word for a part whose own mesh is too large for a page (docs/page.md).
test('a part whose mesh is drawn rounded is said to be, and one drawn as it is not', () =>
  using({}, async (page) => {
    const note = page.locator('.switches output.small');
    await choose(page, 'Shown', 'part');
    assert.equal(await note.innerText(), '');
    await choose(page, 'Shown', 'all');
    await page.evaluate(() => (window.proveoutBench.about.part_mesh.within = 0.53));
    assert.equal(await note.innerText(), '');
    await choose(page, 'Shown', 'part');
    assert.match(await note.innerText(), /100 000 triangles.*0\.53 mm apart, its edges rounded by up to that/);
  }));

test('a section square to the view, its place in numbers', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await press(page, 'top');
    await choose(page, 'Section', 'eye');
    const slider = page.getByLabel('Place of the section plane');
    await slider.fill('0.5');
    const words = await slider.getAttribute('aria-valuetext');
    const [, mm] = words.match(/^(-?[\d.]+) mm along 0\.00, 0\.00, 1\.00$/);
    assert.ok(Math.abs(mm - -8) < 0.05, words);
    // 8 mm down there is material everywhere but where the left edge went; the cut face is told as such.
    assert.match(await clickOn(page, [40, 30, -8], null), /Inside of the material/);
    const at = (await clickOn(page, [50, 12, -8], null)).match(/at\s+X\S+ Y\S+ Z(-?[\d.]+)/);
    assert.ok(at[1] <= -8 && at[1] >= -16.05, at[0]);
    await slider.fill('0.95'); // 0.8 below the top: the slot's floor is still there
    assert.match(await clickOn(page, [50, 12, -4], null), /line 15/);
  }));

test('where the time goes: rows add up, and the longest stretch is the longest', () =>
  using({ url: plain }, async (page) => {
    const told = await page.evaluate(() => {
      const { about, motions } = window.proveoutBench;
      return about.setups.map((setup, s) => {
        // Slowly: the time of the feed motions between one rapid and the next.
        const of = motions[s];
        let [best, from] = [0, 0];
        for (let a = 0; a < of.count; a++) {
          if (of.kind[a] === 0 || (a > 0 && of.kind[a - 1] !== 0 && of.tool[a - 1] === of.tool[a]))
            continue;
          let time = 0;
          for (let b = a; b < of.count && of.kind[b] !== 0 && of.tool[b] === of.tool[a]; b++)
            time += of.timeS[b];
          if (time > best) [best, from] = [time, of.line[a]];
        }
        return { total: setup.time_s, best, from, name: setup.name };
      });
    });
    const seconds = (words) => words.split(':').reduce((sum, v) => 60 * sum + Number(v), 0);
    for (const { total, best, from, name } of told) {
      const rows = page.getByRole('region', { name: `Setup ${name}: where` }).locator('tbody tr');
      const cells = await rows.evaluateAll((all) =>
        all.map((row) => [...row.children].map((c) => c.textContent.trim())),
      );
      const sum = cells.reduce((s, c) => s + seconds(c[3]), 0);
      assert.ok(sum <= total + 1e-6 && sum > total - cells.length - 1, `${sum} of ${total}`);
      const parts = cells.reduce((s, c) => s + parseFloat(c[4]), 0);
      assert.ok(Math.abs(parts - 100) < 2, `${parts} %`);
      assert.equal(seconds(cells[0][3]), Math.floor(best + 1e-9));
      assert.equal(cells[0][1], `line ${from}`);
    }
  }));

test('the sheet says what pocket would hold a side that lies on milled faces', () =>
  using({}, async (page) => {
    const sheets = await page.locator('.sheet-setup').allTextContents();
    assert.doesNotMatch(sheets[0], /pocket/); // the blank as it is
    // 57 x 40 x 16 is left; side B goes 0.05 in = 1.27 mm down: 16 - 1.27 - 1 = 13.73.
    const [, x, y, deep] = sheets[1].match(/X ([\d.]+), Y ([\d.]+) \(.*at most ([\d.]+) deep/);
    for (const [v, e] of [
      [x, 57.2],
      [y, 40.2],
      [deep, 13.7],
    ])
      assert.ok(Math.abs(v - e) < 0.11, `${v} for ${e}`);
    assert.match(sheets[1], /relieved with a tool of 6 mm/);
  }));

test('the sheet says where a tool comes back, and only there', () =>
  using({}, async (page) => {
    const told = await page.evaluate(() => {
      const { about, motions } = window.proveoutBench;
      return about.setups.map((setup, s) => {
        const { tool } = motions[s];
        return [setup.tool_order, [...tool].filter((t, m) => m === 0 || t !== tool[m - 1])];
      });
    });
    for (const [said, slowly] of told) assert.deepEqual(said, slowly);
    assert.doesNotMatch(await page.locator('#sheet').textContent(), /comes back/);
    await altered(
      (about) => {
        assert.deepEqual(about.setups[0].tool_order, [1]);
        about.setups[0].tool_order.push(1);
      },
      async (other) => {
        const sheets = await other.locator('.sheet-setup').allTextContents();
        assert.match(sheets[0], /A tool comes back\. One after the other: T1, T1\./);
        assert.doesNotMatch(sheets[1], /comes back/);
      },
    );
  }));

// Side A mills 3 mm off the left edge from top to bottom (job/part.toml): there is no rim. One is put there by hand, and a lack.
test('the sheet says whether a milled face that carries the zero is met first', () =>
  using({}, async (page) => {
    const sheets = await page.locator('.sheet-setup').allTextContents();
    assert.doesNotMatch(sheets[0], /met first/);
    assert.match(sheets[1], /X0, the milled left face: at Z -0\.5 it is met first; at Z -15\.5 it is met first/);
    for (const [by, words] of [
      [-3, /at Z -0\.5 a rim stands 3\.00 mm outside of it; at Z -15\.5 it is met first/],
      [2, /at Z -0\.5 it is missing, what is met first lies 2\.00 mm further in; at Z -15\.5 it is met first/],
    ])
      await altered(
        ({ setups }) => {
          for (const contour of setups[1].drawing.plan[0].contours)
            for (let i = 0; i < contour.length; i += 2) contour[i] += by;
        },
        async (other) => assert.match(await other.locator('.sheet-setup').nth(1).textContent(), words),
      );
  }));

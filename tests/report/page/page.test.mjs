// The page in a real browser. The job (job/block.toml) is a 60 x 40 x 16 mm block: in setup A a 6 mm flat
// tool cuts a slot at y = 12 to z = -2 (line 7) and then -4 (line 11), a 6 mm ball a groove at y = 28 to
// z = -3 (line 18); setup B, turned about y, cuts a ring of radius 8 about 30, 20 to z = -3 (line 9).
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { choose, clickOn, press, slideTo, still, timeOfLine } from './browser.mjs';
import { opener } from './opener.mjs';

const { url, using, newPage } = opener(process.env.PROVEOUT_REPORT);
const key = async (page, name) => {
  await page.keyboard.press(name);
  await still(page);
};

test('opens from disk, asks for nothing else, and nothing in it complains', () =>
  using({}, async (page, { asked }) => {
    assert.deepEqual(asked, [url]);
    assert.match(await page.locator('.verdict').innerText(), /not checked/);
  }));

// A kind that is looked for with some tools or setups only stands under both, and says so.
test('each kind found stands under what was checked, and what stands under both is checked in part', () =>
  using({}, async (page) => {
    const { checked, not_checked, findings } = await page.evaluate(
      () => window.proveoutBench.about,
    );
    const why = new Map(checked.map((item) => [item.what, item.why]));
    const found = new Set(
      findings.map((f) => f.kind).filter((k) => k !== 'program' && k !== 'job'),
    );
    assert.ok(found.size > 0);
    for (const kind of found) assert.ok(why.has(kind), `${kind} was found, so looked for`);
    const missing = new Set(not_checked.map((item) => item.what));
    for (const [kind, words] of why)
      assert.equal(/, in part$/.test(words), missing.has(kind), `${kind}: ${words}`);
    assert.ok([...why.values()].some((words) => /in part/.test(words)));
  }));

// Drawing is what the first view costs: on a large job the surfaces hold a million triangles. What only later pictures
// need is not worked out before it.
test('the first view draws one surface, the end of the last setup', async () => {
  const page = await newPage();
  try {
    await page.addInitScript(() => {
      window.drawn = [];
      const gl = WebGL2RenderingContext.prototype,
        draw = gl.drawElements;
      gl.drawElements = function (...of) {
        window.drawn.push(of[1]);
        return draw.apply(this, of);
      };
      new MutationObserver(() => {
        if (document.documentElement?.dataset.shown !== 'all' || window.then) return;
        const { view, scenes, about } = window.proveoutBench;
        window.then = {
          early: [view.stock.unshaded, scenes.filter(Boolean).length, scenes[about.setups.length - 1].columns.begun],
          whole: view.canvas.dataset.drawn,
        };
      }).observe(document, { subtree: true, attributes: true, attributeFilter: ['data-shown'] });
    });
    await page.goto(url);
    await page.waitForFunction(() => document.documentElement.dataset.shown === 'all', null, {
      timeout: 120000,
    });
    const { drawn, corners } = await page.evaluate(() => {
      const { about, bulk } = window.proveoutBench;
      const end = bulk.surface(about.setups.at(-1).after);
      return { drawn: window.drawn, corners: end.triangles.length };
    });
    // The tool's and holder's bodies are the only other ones: some hundred triangles.
    // Smaller ones are pieces and coarse twins of that surface, where drawing is slow (docs/page.md).
    const surfaces = drawn.filter((n) => n > 60_000);
    assert.ok(surfaces.length > 0 && corners > 60_000, `${drawn}`);
    for (const n of surfaces) assert.equal(n, corners, `drawn: ${drawn}`);
    // Both surfaces are shaded later, the other setup is not there yet, nor what stands before the first motion.
    assert.deepEqual(await page.evaluate(() => window.then), { early: [2, 1, false], whole: 'whole' });
    await still(page);
    assert.equal(await page.evaluate(() => window.proveoutBench.view.painter.fine.samples), 4, 'edges are smooth from then on');
  } finally {
    await page.close();
  }
});

test('text of programs and job stays text', () =>
  using({}, async (page) => {
    assert.equal(await page.locator('#head h1').innerText(), 'block <script>alert(1)</script> & "slot"');
    assert.equal(await page.locator('script').count(), 3);
    await press(page, 'Setup A');
    await slideTo(page, await timeOfLine(page, 0, 5, 0.5));
    assert.match(await page.locator('.nc').innerText(), /\(side A <b>slot<\/b> and groove\)/);
    assert.equal(await page.locator('.nc b').count(), 0);
  }));

test('a click on the surface names tool and line', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    const slot = await clickOn(page, [42, 12.5, -4]);
    assert.match(slot, /T1 6 mm flat, setup A/);
    assert.match(slot, /side-a\.nc line 11: G1 X65 F900/);
    assert.match(slot, /force \d/);
    assert.match(await clickOn(page, [42, 28, -3]), /T2 6 mm ball, setup A\s+side-a\.nc line 18/);
    assert.match(await clickOn(page, [42, 20, 0]), /blank's own surface/);
    await press(page, 'Setup B');
    assert.match(await clickOn(page, [30, 28, -3]), /T1 6 mm flat, setup B\s+side-b\.nc line 9/);
    // From below, in setup B, what setup A made is still known; its slot is open to z = -16 there.
    assert.match(await clickOn(page, [18, 14.4, -12], 'below'), /setup A\s+side-a\.nc line 11/);
  }));

test('while the cut runs, the surface of that moment answers', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await slideTo(page, await timeOfLine(page, 0, 11, 0.5)); // tool at x = 30, half of the second pass
    await choose(page, 'Path', 'none');
    assert.match(await clickOn(page, [15, 11, -4]), /line 11/);
    assert.match(await clickOn(page, [50, 11, -2]), /line 7/);
    assert.match(await clickOn(page, [50, 28, 0]), /blank's own surface/);
  }));

test('the slider carries the block, the tool and the strips with it', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await slideTo(page, await timeOfLine(page, 0, 18, 0.5));
    assert.match(await page.locator('.nc .here').innerText(), /18\s+G1 X65 F1200/);
    assert.match(await page.locator('.readings').innerText(), /T2 6 mm ball/);
    assert.match(await page.locator('.readings').innerText(), /X3\d\.\d+ Y28\.000 Z-3\.000/);
    assert.match(
      await page.locator('#moment').getAttribute('aria-valuetext'),
      /of 1:0\d, tool 2, line 18/,
    );
    // A tool's number is seen whole or not at all: T12 cut short is T1.
    const seen = await page.locator('.stretch').first().evaluate((stretch) =>
      [80, 24, 21, 18, 14, 8].map((width) => {
        const of = document.createElement('div');
        of.className = 'stretch';
        of.textContent = 'T12';
        of.style.width = `${width}px`;
        of.style.setProperty('--tool', 'red'); // or it has no band above the number
        stretch.parentElement.append(of);
        const words = document.createRange();
        words.selectNodeContents(of);
        const box = of.getBoundingClientRect(),
          pieces = [...words.getClientRects()].filter((r) => r.width > 0);
        of.remove();
        if (pieces.length !== 1) return `${pieces.length} pieces`;
        return pieces[0].top >= box.bottom - 1 ? 'none' : pieces[0].right <= box.right && 'whole';
      }),
    );
    assert.ok(seen.every((s) => s === 'whole' || s === 'none') && seen[0] === 'whole' && seen.at(-1) === 'none', `${seen}`);
    assert.equal(await page.locator('.strip').count(), 5);
    const [head, over, share] = await page.evaluate(() => {
      const box = (of) => document.querySelector(of).getBoundingClientRect();
      const slider = document.getElementById('moment');
      return [box('.playhead'), box('.strip .u-over'), slider.value / slider.max];
    });
    const left = (head.left + head.width / 2 - over.left) / over.width;
    assert.ok(Math.abs(left - share) < 0.005, `playhead ${left}, slider ${share}`);
    // A click on a strip moves the slider.
    const strip = page.locator('.strip .u-over').first(),
      box = await strip.boundingBox();
    await strip.click({ position: { x: box.width * 0.25, y: 20 } });
    await still(page);
    const now = await page.locator('#moment').evaluate((s) => s.value / s.max);
    assert.ok(Math.abs(now - 0.25) < 0.01, `went to ${now} of the time`);
  }));

test('columns hold what the closed forms say', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await slideTo(page, await timeOfLine(page, 0, 19, 0.9));
    const worst = await page.evaluate(() => {
      const { columns } = window.proveoutBench.scenes[0],
        { grid, now } = columns;
      let most = 0;
      for (let j = 0; j < grid.ny; j++)
        for (let i = 0; i < grid.nx; i++) {
          const y = grid.y + (j + 0.5) * grid.cell;
          let top = 0;
          if (Math.abs(y - 12) < 3) top = -4;
          if (Math.abs(y - 28) < 3) top = -Math.sqrt(9 - (y - 28) ** 2); // centre of the ball at z = 0
          most = Math.max(most, Math.abs(now.top[j * grid.nx + i] - top));
        }
      return most;
    });
    assert.ok(worst < 0.01, `a column is ${worst} mm off`);
  }));

test('columns and the level set agree on what has been removed', () =>
  using({}, async (page) => {
    for (const [setup, name, line, share] of [
      [0, 'Setup A', 7, 0.5],
      [0, 'Setup A', 11, 0.7],
      [0, 'Setup A', 18, 0.4],
      [1, 'Setup B', 9, 0.5],
      [1, 'Setup B', 13, 0.5],
    ]) {
      await press(page, name);
      await slideTo(page, await timeOfLine(page, setup, line, share));
      const [columns, engine] = await page.evaluate(
        ([s]) => {
          const bench = window.proveoutBench,
            scene = bench.scenes[s],
            { grid, now, start } = scene.columns;
          let volume = 0;
          for (let c = 0; c < now.top.length; c++)
            volume += Math.max(grid.low, start.top[c]) - Math.max(grid.low, now.top[c]);
          const removed = bench.motions[s].of('removed_mm3');
          let sum = 0;
          for (let m = 0; m < now.motion; m++) sum += removed[m];
          return [volume * grid.cell ** 2, [sum, sum + removed[now.motion]]];
        },
        [setup],
      );
      // Within the motion under way the removal is between its start and its end; 3 % for cell and voxel.
      assert.ok(
        columns > engine[0] * 0.97 - 1 && columns < engine[1] * 1.03 + 1,
        `line ${line}: columns ${columns} mm3, level set ${engine}`,
      );
    }
  }));

test('going back gives the same columns as going forward', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    const sum = () =>
      page.evaluate(() =>
        window.proveoutBench.scenes[0].columns.now.top.reduce((a, b) => a + b, 0),
      );
    const moment = await timeOfLine(page, 0, 11, 0.3);
    await slideTo(page, moment);
    const first = await sum();
    await slideTo(page, await timeOfLine(page, 0, 18, 0.8));
    assert.notEqual(await sum(), first);
    await slideTo(page, moment);
    assert.equal(await sum(), first);
  }));

test('the section plane opens the block', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Section', 'x');
    await page.getByLabel('Place of the section plane').fill('0.5');
    assert.match(
      await page.getByLabel('Place of the section plane').getAttribute('aria-valuetext'),
      /^x 30\.00 mm$/,
    );
    // It opens the half towards the eye, which is on the -x side.
    assert.match(await clickOn(page, [30, 20, -8], 'left'), /Inside of the material/);
    assert.match(await clickOn(page, [30, 12, -2], 'left'), /Nothing there|line/);
    await press(page, 'Other half');
    assert.match(await clickOn(page, [0, 20, -8], 'left'), /blank's own surface/);
    await choose(page, 'Section', 'none');
    assert.match(await clickOn(page, [0, 20, -8], 'left'), /blank's own surface/);
  }));

test('a finding is a jump to its place and time', () =>
  using({}, async (page) => {
    const row = page.locator('.findings tbody tr', { hasText: 'rapid-contact' }).first();
    const words = await row.locator('.jump').first().innerText();
    const line = Number(words.match(/line (\d+)/)[1]);
    await row.locator('.jump').first().click();
    await still(page);
    assert.match(await page.locator('.nc .here').innerText(), new RegExp(`^${line}\\s`));
    assert.match(await page.locator('.picked').innerText(), /error: /);
  }));

test('findings of one kind are one row that names every place', () =>
  using({}, async (page) => {
    const rows = await page.locator('.findings tbody tr').count(),
      all = await page.evaluate(() => window.proveoutBench.about.findings.length);
    assert.ok(rows > 0 && rows <= all, `${rows} rows for ${all} findings`);
    const places = await page.locator('.findings .others .jump').count(),
      alone = await page.locator('.findings tbody tr:not(:has(.others))').count();
    assert.equal(places + alone, all);
  }));

test('keys step, run and jump', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    const here = () => page.locator('.readings').innerText();
    await slideTo(page, await timeOfLine(page, 0, 7, 0.5));
    await page.locator('#moment').focus();
    await key(page, '.');
    assert.match(await here(), /motion\s+4 of/);
    await key(page, ',');
    assert.match(await here(), /motion\s+3 of/);
    await key(page, 'Home');
    assert.match(await here(), /before the first|motion\s+1 of/);
    await page.keyboard.press(' ');
    // How far a picture at a time comes is the machine's business: it moves on, and stops where it is told to.
    await page.waitForFunction(() => Number(document.getElementById('moment').value) > 2);
    await page.keyboard.press(' ');
    await still(page);
    const moment = () => page.locator('#moment').evaluate((s) => Number(s.value));
    const stopped = await moment();
    await page.waitForTimeout(300);
    assert.equal(await moment(), stopped);
    await page.locator('.picture canvas').focus();
    const before = await page.evaluate(() => window.proveoutBench.project([0, 0, 0]));
    await key(page, 'ArrowLeft');
    assert.notDeepEqual(await page.evaluate(() => window.proveoutBench.project([0, 0, 0])), before);
  }));

test('on paper it is a sheet for the machine', () =>
  using({ media: { media: 'print' } }, async (page) => {
    for (const hidden of ['#bench', '#head', '#figures', '#limits'])
      assert.equal(await page.locator(hidden).isVisible(), false, hidden);
    assert.ok(await page.locator('#findings').isVisible());
    const sheet = await page.locator('#sheet').innerText();
    for (const words of [
      'Setup A: side-a.nc',
      'turned 180 degrees about y',
      'a corner stop',
      'To check by hand',
      'Not checked',
      'Take care',
    ])
      assert.ok(sheet.toLowerCase().includes(words.toLowerCase()), `the sheet lacks: ${words}`);
    const tools = await page.locator('.sheet-setup').first().locator('tbody tr').allInnerTexts();
    assert.deepEqual(
      tools.map((t) => t.match(/T\d/)[0]),
      ['T1', 'T2'],
    );
    assert.equal(await page.locator('.sketch .zero').count(), 4); // from above and from the front
    assert.equal(await page.locator('.sketch .turn.about-y').count(), 1);
    assert.ok((await page.locator('.boxes .tick').count()) >= 6);
    // One line for each kind of error in each setup and with each tool, so that none is left out.
    const { findings } = await page.evaluate(() => window.proveoutBench.about);
    const kinds = new Set(
      findings.filter((f) => f.level === 'error').map((f) => [f.kind, f.setup, f.tool].join(' ')),
    );
    const lines = page.locator('#sheet section', { hasText: 'Errors found' }).locator('li');
    assert.ok(kinds.size > 0);
    assert.equal(await lines.count(), kinds.size);
  }));

for (const width of [360, 768])
  test(`${width} pixels wide it does not scroll sideways`, () =>
    using({ viewport: { width, height: 740 } }, async (page) => {
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width);
      assert.ok(await page.locator('.picture canvas').isVisible());
      assert.ok((await page.locator('.picture').boundingBox()).width > width * 0.55);
    }));

test('dark and light differ and stay readable', () =>
  using({ media: { colorScheme: 'dark' } }, async (page) => {
    // Contrast as WCAG 2.2 defines it (1.4.3: 4.5 to 1 for text).
    const contrast = () =>
      page.evaluate(() => {
        const light = (css) =>
          css
            .match(/[\d.]+/g)
            .slice(0, 3)
            .map((v) => v / 255)
            .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
            .reduce((sum, v, k) => sum + v * [0.2126, 0.7152, 0.0722][k], 0);
        const paper = light(getComputedStyle(document.documentElement).backgroundColor);
        return ['h1', '.kicker', '.verdict', '.small', 'thead th']
          .map((s) => light(getComputedStyle(document.querySelector(s)).color))
          .map((ink) => (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05));
      });
    const paper = () =>
      page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
    const dark = await paper();
    for (const ratio of await contrast()) assert.ok(ratio >= 4.5, `dark: ${ratio}`);
    await press(page, 'Light or dark');
    assert.notEqual(await paper(), dark);
    for (const ratio of await contrast()) assert.ok(ratio >= 4.5, `light: ${ratio}`);
  }));

test('never a promise', () =>
  using({}, async (page) => {
    assert.doesNotMatch(
      await page.locator('body').innerText(),
      /\bsafe\b|\bapproved\b|\bguarantee/i,
    );
  }));

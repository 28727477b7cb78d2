// The page as an instrument, on the job of shown.test.mjs (job/part.toml, whose setup A has a wedge for a
// jaw and a box for a stop) and on job/block.toml.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { choose, clickOn, pixels, press, slideTo, still, timeOfLine } from './browser.mjs';
import { opener } from './opener.mjs';

const { using } = opener(process.env.PROVEOUT_REPORT_PART);
const block = new URL(`file://${process.env.PROVEOUT_REPORT}`).href;

const program = (page) =>
  page.evaluate(() => {
    const { about, bulk, index } = window.proveoutBench;
    return bulk.text(about.setups[index].files[0].text).split('\n');
  });
const seek = async (page, words) => {
  await page.getByRole('searchbox').fill(words);
  await page.getByRole('searchbox').press('Enter');
  await still(page);
};
const nowAt = (page) =>
  page.evaluate(() => {
    const { motions, index, time } = window.proveoutBench;
    const m = motions[index].indexAt(time);
    return { line: motions[index].line[m], force: motions[index].of('force_n')[m], index };
  });

test('the whole program scrolls, every line with its own text', () =>
  using({ url: block }, async (page) => {
    await press(page, 'Setup A');
    const lines = await program(page);
    const box = page.locator('.nc');
    const [inside, outside] = await box.evaluate((b) => [b.scrollHeight, b.clientHeight]);
    assert.ok(inside > outside, `${lines.length} lines in ${outside} of ${inside} pixels`);
    const seen = new Map();
    for (const share of [0, 0.5, 1]) {
      await box.evaluate((b, s) => {
        b.scrollTop = s * (b.scrollHeight - b.clientHeight);
      }, share);
      await page.evaluate(
        () => new Promise((r) => requestAnimationFrame(() => requestAnimationFrame(r))),
      );
      const shown = await box.evaluate((b) => {
        const { top, bottom } = b.getBoundingClientRect();
        return [...b.querySelectorAll('li')]
          .filter((li) => {
            const r = li.getBoundingClientRect();
            return r.top > top - 2 && r.bottom < bottom + 2;
          })
          .map((li) => [li.querySelector('.ln').textContent, li.querySelector('code').textContent]);
      });
      assert.ok(shown.length >= 8, `${shown.length} lines in sight`);
      for (const [n, text] of shown) seen.set(Number(n), text);
    }
    assert.deepEqual(
      [...seen.keys()].sort((a, b) => a - b),
      lines.map((_, i) => i + 1),
    );
    for (const [n, text] of seen) assert.equal(text, lines[n - 1]);
  }));

test('lines are gone to by number and found by what they say', () =>
  using({ url: block }, async (page) => {
    await press(page, 'Setup A');
    await slideTo(page, 0);
    await seek(page, '18');
    assert.equal((await nowAt(page)).line, 18);
    assert.match(await page.locator('.nc .here').innerText(), /^18\s/);
    // A line that moves nothing is shown, and the moment stays.
    await seek(page, '14');
    assert.equal((await nowAt(page)).line, 18);
    assert.match(await page.locator('.nc .found').innerText(), /^14\s/);
    assert.match(await page.locator('.seek').innerText(), /line 14 moves nothing/);
    await seek(page, '9999');
    assert.match(await page.locator('.seek').innerText(), /it has \d+ lines/);
    // By words, whatever their case, one after the other and round the end; each as a slow look finds it.
    const lines = await program(page);
    const wanted = lines.flatMap((t, i) => (t.includes('X65') ? [i + 1] : []));
    await slideTo(page, 0);
    const found = [];
    for (let i = 0; i <= wanted.length; i++) {
      await seek(page, 'x65');
      found.push((await nowAt(page)).line);
    }
    assert.deepEqual(found, [...wanted, wanted[0]]);
    await seek(page, 'no such words');
    assert.match(await page.locator('.seek').innerText(), /not found/);
  }));

test('a line in a table goes to the motion of which it speaks', () =>
  using({ url: block }, async (page) => {
    const rows = await page.evaluate(() =>
      window.proveoutBench.about.setups.flatMap((s, setup) =>
        s.tools.filter((t) => t.peak.line).map((t) => ({ setup, peak: t.peak })),
      ),
    );
    const links = page.getByRole('region', { name: /the largest of each tool/ }).locator('.jump');
    assert.equal(await links.count(), rows.length);
    for (const [i, { setup, peak }] of rows.entries()) {
      await links.nth(i).click();
      await still(page);
      const now = await nowAt(page);
      assert.equal(now.index, setup);
      assert.equal(now.line, peak.line);
      assert.ok(Math.abs(now.force - peak.force_n) < 0.06, `${now.force} N, ${peak.force_n} told`);
    }
    const charts = await page.evaluate(() => window.proveoutBench.about.stability);
    for (const [i, chart] of charts.entries()) {
      const link = page.locator('#loads .jump').nth(i);
      assert.equal(await link.innerText(), `line ${chart.line}`);
      await link.click();
      await still(page);
      assert.equal((await nowAt(page)).line, chart.line);
    }
  }));

test('fixtures are drawn as they are: the empty half of a wedge is seen through', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await press(page, 'top');
    await page.locator('.picture canvas').focus();
    for (let k = 0; k < 5; k++) await page.keyboard.press('-');
    const seen = async (place) => (await pixels(page, place))[0];
    const [empty, solid, stop] = [
      await seen([46, 52, -8]),
      await seen([25, 44, -8]),
      await seen([65, 20, -10]),
    ];
    const apart = (a, b) => Math.hypot(...a.map((v, k) => v - b[k]));
    assert.ok(apart(empty, solid) > 20, `${empty} and ${solid}`);
    assert.ok(apart(empty, stop) > 20, `${empty} and ${stop}`);
  }));

test('the sheet names what is set, touched and measured, in figures of the program', () =>
  using({}, async (page) => {
    const rows = async (setup) =>
      (await page.locator('.sheet-setup').nth(setup).locator('tbody tr').allTextContents())[0];
    // Side A's tool first feeds from X0 Y-6 Z-16 and never goes lower; 16000 1/min, 900 mm/min.
    const a = await rows(0);
    for (const words of ['X0 Y-6 Z-16', '16000', '900', '14, needs'])
      assert.ok(a.includes(words), `${words} in ${a}`);
    // Side B is in inches: 1, -0.2 and -0.05; 40 in/min.
    const b = await rows(1);
    for (const words of ['X25.4 Y-5.08 Z-1.27', '18000', '1016'])
      assert.ok(b.includes(words), `${words} in ${b}`);
    const sheets = await page.locator('.sheet-setup').allTextContents();
    // 60 x 40 x 16 less 3 mm on the left; the voxel is 0.25.
    assert.doesNotMatch(sheets[0], /Piece measured/);
    const sizes = sheets[1].match(/X\s+\(([\d.]+)\), Y\s+\(([\d.]+)\), Z\s+\(([\d.]+)\)/);
    [57, 40, 16].forEach((v, k) => assert.ok(Math.abs(sizes[k + 1] - v) < 0.05, sizes[0]));
    assert.match(sheets[0], /jaw stands at X 20 to 50, Y 41 to 56, Z -16 to -8/);
    // The left front top corner goes with the left edge.
    assert.doesNotMatch(sheets[0], /milled off by now/);
    assert.match(sheets[1], /milled off by now/);
    for (const sheet of sheets) assert.match(sheet, /Zero touched: x at the/);
    // Clamps are drawn where they stand: y goes up on paper.
    const drawn = await page
      .locator('.sheet-setup')
      .first()
      .locator('.sketch')
      .first()
      .locator('.fixture')
      .evaluateAll((all) =>
        all.map((r) => ['x', 'y', 'width', 'height'].map((k) => Number(r.getAttribute(k)))),
      );
    assert.deepEqual(drawn, [
      [20, -56, 30, 15],
      [61, -30, 9, 15],
    ]);
  }));

test('printed, every setup has a page of its own', () =>
  using({ media: { media: 'print' }, viewport: { width: 688, height: 1017 } }, async (page) => {
    // A4 (ISO 216), 210 x 297 mm, less margins of 14 mm, at 96 pixels an inch (CSS Values 4).
    const sheets = await page.locator('.sheet-setup').evaluateAll((all) =>
      all.map((s) => ({
        tall: s.getBoundingClientRect().height,
        wide: s.scrollWidth,
        ends: getComputedStyle(s).breakAfter,
      })),
    );
    assert.equal(sheets.length, 2);
    // From above and from the front a millimetre is as long, along and across.
    const scales = await page
      .locator('.sheet-setup')
      .evaluateAll((all) =>
        all.map((s) => [...s.querySelectorAll('.sketch')].flatMap((v) => [v.getScreenCTM().a, v.getScreenCTM().d])),
      );
    for (const of of scales) {
      assert.equal(of.length, 4);
      assert.ok(Math.min(...of) > 1 && Math.max(...of) < 1.002 * Math.min(...of), `${of} pixels a millimetre`);
    }
    for (const { tall, wide, ends } of sheets) {
      assert.equal(ends, 'page');
      assert.ok(tall < 1017, `${tall} pixels tall`);
      assert.ok(wide <= 688, `${wide} pixels wide`);
    }
    // Letters in drawings stand clear of the lines behind them, and the kind of a finding breaks at its hyphens alone.
    const clear = await page.locator('.sketch text').evaluateAll((all) =>
      all.map((t) => {
        const { paintOrder, stroke, strokeWidth, fill } = getComputedStyle(t);
        return `${paintOrder.split(' ')[0]} ${parseFloat(strokeWidth) >= 3} ${stroke !== fill}`;
      }),
    );
    assert.deepEqual([...new Set(clear)], ['stroke true true']);
    const words = await page.locator('#findings tbody td:last-child').evaluateAll((all) =>
      all.flatMap((cell) => {
        const range = document.createRange(),
          text = cell.firstChild;
        return [...cell.textContent.matchAll(/[a-z]+/g)].map(({ index, 0: word }) => {
          range.setStart(text, index);
          range.setEnd(text, index + word.length);
          return range.getClientRects().length;
        });
      }),
    );
    assert.ok(words.length > 0 && words.every((pieces) => pieces === 1), `${words}`);
  }));

test('a click names tool, line, time and distance from the part, and marks the line', () =>
  using({}, async (page) => {
    await press(page, 'Setup A');
    await slideTo(page, await timeOfLine(page, 0, 15, 0.9));
    await choose(page, 'Path', 'none');
    const said = await clickOn(page, [30, 12.5, -4]);
    // The part's top is 3.7 above; the lattice that is read while it is cut knows 2 mm.
    assert.match(said, /2\.00 mm or more cut into the part/);
    assert.match(said, /T1 6 mm flat, setup A/);
    assert.match(said, /edge\.nc line 15/);
    assert.match(said, /made at \d:\d\d/);
    assert.match(await page.locator('.nc .found').innerText(), /^15\s/);
    await slideTo(page, await page.evaluate(() => window.proveoutBench.about.setups[0].time_s));
    assert.match(await clickOn(page, [30, 12.5, -4]), /3\.70 mm cut into the part/);
  }));

test('while it runs, nothing is announced with every picture', () =>
  using({ url: block }, async (page) => {
    await press(page, 'Setup A');
    await slideTo(page, 0);
    await choose(page, 'Pace', '1');
    await page.evaluate(() => {
      window.told = 0;
      // What assistive technology announces: live regions (WAI-ARIA 1.2, 6.6.3; an output is a status
      // by HTML-AAM 1.0) and the value of the slider.
      const live = document.querySelectorAll('output, [aria-live], [role=status], [role=alert]');
      const seen = new MutationObserver((changes) => (window.told += changes.length));
      for (const region of live)
        seen.observe(region, { subtree: true, childList: true, characterData: true });
      seen.observe(document.getElementById('moment'), { attributeFilter: ['aria-valuetext'] });
    });
    await page.getByRole('button', { name: 'Run', exact: true }).click();
    await page.waitForFunction(() => Number(document.getElementById('moment').value) > 2);
    assert.ok((await page.evaluate(() => window.told)) <= 2, 'announced while it runs');
    await page.getByRole('button', { name: 'Hold', exact: true }).click();
    await still(page);
    assert.match(await page.locator('#moment').getAttribute('aria-valuetext'), /^0:(?!0[01])\d\d of/);
  }));

// Lines 22 to 61 of side A are moves of 0.05 mm in air at F900: 3.3 ms each once under way (400 mm/s2 take 0.28 mm to that
// speed). Worked out from times of half a millisecond they would be told as 857 or 1000.
test('the mean speed of short moves is the speed they have', () =>
  using({}, async (page) => {
    const told = await page.evaluate(() => {
      const motions = window.proveoutBench.motions[0];
      return [...motions.of('speed')].map((speed, m) => ({ speed, line: motions.line[m], feed: motions.feed[m], kind: motions.kind[m] }));
    });
    const short = told.filter(({ line }) => line >= 32 && line <= 51);
    assert.equal(short.length, 20);
    for (const { speed, line } of short) assert.ok(Math.abs(speed - 900) <= 1, `line ${line}: ${speed}`);
    for (const { speed, feed, kind } of told) assert.ok(kind === 0 || speed <= feed + 0.51, `${speed} of ${feed}`);
    await press(page, 'Setup A');
    const title = await page.locator('.strip-title', { hasText: 'mean speed' }).innerText();
    assert.match(title, /most 900 /);
    assert.match(title, /rapids, not drawn: [45]\d\d\d/);
  }));

test('findings are chosen by the cause they go with', () =>
  using({ url: block }, async (page) => {
    const { findings, causes } = await page.evaluate(() => window.proveoutBench.about);
    assert.ok(causes.length > 0);
    // A row speaks with the worst of its findings: each row's words are of one that was asked for, and all are counted.
    const holds = async (option, wanted) => {
      await page.getByLabel('cause', { exact: true }).selectOption(option);
      const rows = page.locator('.findings tbody tr');
      for (const words of await rows.evaluateAll((all) => all.map((row) => row.children[1].textContent)))
        assert.ok(wanted.some((f) => words.startsWith(f.text)), words);
      const places = await rows.locator('.others .jump').count(),
        alone = await page.locator('.findings tbody tr:not(:has(.others))').count();
      assert.equal(places + alone, wanted.length, option);
    };
    const options = await page.getByLabel('cause', { exact: true }).locator('option').allInnerTexts();
    assert.equal(options.length, causes.length + 2); // every, and none named
    for (const [c, cause] of causes.entries()) {
      const of = findings.filter((f) => f.cause === c);
      assert.equal(of.length, cause.explains, cause.text);
      await holds(`${c + 1}. ${cause.text}`, of);
    }
    await holds('none named', findings.filter((f) => f.cause === undefined));
    await holds('', findings);
  }));

for (const [width, height] of [
  [1366, 650],
  [844, 390],
  [683, 384], // the first at 200 %
  [390, 844],
])
  test(`the first view fills its frame, ${width} x ${height}`, () =>
    using({ viewport: { width, height } }, async (page) => {
      const { shown, size } = await page.evaluate(async () => {
        await new Promise((r) => requestAnimationFrame(() => requestAnimationFrame(r)));
        const bench = window.proveoutBench,
          { low, high } = bench.scenes[bench.index];
        const canvas = document.querySelector('.picture canvas');
        return {
          shown: Array.from({ length: 8 }, (_, k) =>
            bench.project([0, 1, 2].map((a) => ((k >> a) & 1 ? high[a] : low[a]))),
          ),
          size: [canvas.clientWidth, canvas.clientHeight],
        };
      });
      const span = ['x', 'y'].map((of, a) => {
        const at = shown.map((p) => p[of]);
        assert.ok(Math.min(...at) >= 0 && Math.max(...at) <= size[a], `${of}: ${at}`);
        return (Math.max(...at) - Math.min(...at)) / size[a];
      });
      assert.ok(Math.max(...span) > 0.7, `${span} of the frame`);
      await page.evaluate(() => document.getElementById('bench').scrollIntoView({ behavior: 'instant' }));
      for (const of of ['.picture canvas', '#moment']) {
        const box = await page.locator(of).first().boundingBox();
        assert.ok(box.y >= -1 && box.y + box.height <= height, `${of}: ${box.y} to ${box.y + box.height}`);
      }
    }));

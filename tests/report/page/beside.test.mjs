// Two results side by side: job/again.toml, whose side A cuts the slot of job/block.toml to -4.3 instead of -4 (line 11,
// at F600 instead of F900) and the ball's groove to -2.5 instead of -3 (line 18), beside block.toml.
import assert from 'node:assert/strict';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { choose, clickOn, pixels, press, slideTo, still, timeOfLine } from './browser.mjs';
import { opener } from './opener.mjs';

const file = process.env.PROVEOUT_REPORT_AGAIN;
const { using } = opener(file);
// Two pictures are drawn twice as slowly: most of it is for the night.
const slow = process.env.PROVEOUT_SLOW ? test : () => undefined;
const compared = (name) => pathToFileURL(join(dirname(dirname(file)), `beside-${name}.html`)).href;

const opened = (page) =>
  page.waitForFunction(
    () =>
      window.proveoutBench?.beside?.side &&
      document.getElementById('bench').getAttribute('aria-busy') === 'false',
    null,
    { timeout: 30000 },
  );
const beside = (settings, work) =>
  using(settings, async (page, more) => {
    await opened(page);
    await work(page, more);
  });
// Where each of the two stands: setup, motion's line, tip, time.
const moments = (page) =>
  page.evaluate(() => {
    const { main, beside } = window.proveoutBench;
    return [main, beside.shown].map((side) => ({
      setup: side.setup.name,
      line: side.motion < 0 ? 0 : side.moving.line[side.motion],
      tip: side.motion < 0 ? null : side.moving.at(side.motion, side.share),
      time: side.time,
      total: side.setup.time_s,
    }));
  });
// The colour of a place of the setup's frame in the other's picture.
const otherPixel = (page, place) =>
  page.evaluate(async (p) => {
    const { view } = window.proveoutBench.beside.shown,
      canvas = view.canvas;
    do await new Promise((ready) => requestAnimationFrame(() => requestAnimationFrame(ready)));
    while (canvas.dataset.drawn !== 'whole');
    const copy = document.createElement('canvas');
    [copy.width, copy.height] = [canvas.width, canvas.height];
    const context = copy.getContext('2d');
    context.drawImage(canvas, 0, 0);
    const scale = canvas.width / canvas.clientWidth,
      { x, y } = view.project(p);
    return [...context.getImageData(Math.round(x * scale), Math.round(y * scale), 1, 1).data].slice(0, 3);
  }, place);
const clickOther = async (page, place) => {
  const at = await page.evaluate((p) => window.proveoutBench.beside.shown.view.project(p), place);
  await page.locator('.beside canvas').click({ position: at });
  return page.locator('.beside .picked').innerText();
};
const isPurple = ([r, g, b]) => b > 1.25 * g && r > 1.1 * g;
const isOrange = ([r, g, b]) => r > 1.1 * g && g > 1.1 * b;
const isWhite = (c) => Math.max(...c) - Math.min(...c) < 14 && Math.min(...c) > 150;

test('two pictures, one slider, one camera', () =>
  beside({ media: { reducedMotion: 'reduce' } }, async (page, { asked }) => {
    assert.equal(asked.length, 1);
    assert.equal(await page.locator('.pictures canvas').count(), 2);
    await press(page, 'Setup A');
    for (const caption of await page.locator('.one figcaption').allInnerTexts())
      assert.match(caption, /20\d\d-\d\d-\d\d \d\d:\d\d: setup A, (again|side-a)\.nc, T2, line 19, 1:0\d of 1:0\d/);
    // On a phone what is chosen beside it keeps its name in one line, and nothing reaches over the edge.
    const size = page.viewportSize();
    await page.setViewportSize({ width: 360, height: 740 });
    const names = await page.locator('.pairing .field span').evaluateAll((all) =>
      all.map((of) => [of.getClientRects().length, of.getBoundingClientRect().height]),
    );
    assert.ok(names.length === 2 && names.every(([lines, tall]) => lines === 1 && tall < 24), `${names}`);
    await page.waitForFunction(() => document.documentElement.scrollWidth <= innerWidth, null, { timeout: 20000 });
    await page.setViewportSize(size);
    // By share of the path the two are at the same place: the paths differ in z alone, by less than 2 mm in all.
    for (const [line, share] of [
      [7, 0.3],
      [11, 0.5],
      [18, 0.8],
    ]) {
      await slideTo(page, await timeOfLine(page, 0, line, share));
      const [own, other] = await moments(page);
      assert.deepEqual([own.line, other.line], [line, line]);
      assert.ok(Math.abs(own.tip[0] - other.tip[0]) < 2, `${own.tip} and ${other.tip}`);
    }
    // The end of one is the end of the other, and the start the start.
    await slideTo(page, 0);
    assert.deepEqual((await moments(page)).map((m) => m.time), [0, 0]);
    const { total } = (await moments(page))[0];
    await slideTo(page, total);
    for (const m of await moments(page)) assert.equal(m.time, m.total);
    // By time: so many seconds into both.
    await choose(page, 'Together by', 'time');
    await slideTo(page, 40);
    assert.deepEqual((await moments(page)).map((m) => Math.round(1000 * m.time)), [40000, 40000]);
    // Turned in the one picture, turned in both.
    const eyes = () =>
      page.evaluate(() => {
        const { main, beside } = window.proveoutBench;
        return [main, beside.shown].map((s) => [s.view.eye.away, s.view.eye.target, s.view.eye.field].flat());
      });
    const same = ([a, b]) => a.forEach((v, k) => assert.ok(Math.abs(v - b[k]) < 1e-6, `${a} and ${b}`));
    const before = await eyes();
    same(before);
    await page.locator('.beside canvas').focus();
    await page.keyboard.press('ArrowLeft');
    const turned = await eyes();
    same(turned);
    assert.notDeepEqual(turned[0], before[0]);
    await press(page, 'top');
    same(await eyes());
  }));

slow('strips lie over each other, with the values of both', () =>
  beside({}, async (page) => {
    await press(page, 'Setup A');
    await slideTo(page, await timeOfLine(page, 0, 11, 0.5));
    const told = await page.evaluate(() => {
      const { main, beside } = window.proveoutBench;
      return [main, beside.shown].map((side) => {
        const speed = side.moving.of('speed');
        return { now: speed[side.motion], most: Math.max(...speed.filter((_, m) => side.moving.kind[m] !== 0)) };
      });
    });
    // 70 mm at F600 and at F900: no faster than the feed, and no slower than from rest to rest at 400 mm/s2 (t = L / v + v / a).
    for (const [i, feed] of [600, 900].entries()) {
      const v = feed / 60,
        least = (60 * 70) / (70 / v + v / 400);
      assert.ok(told[i].now > least - 1 && told[i].now <= feed, `${told[i].now}, at least ${least}`);
    }
    const title = await page.locator('.strip-title', { hasText: 'speed' }).innerText();
    const [, a, most, b, other] = title.match(/mm\/min ([\d.]+) most ([\d.]+).*┊ ([\d.]+) most ([\d.]+)/s);
    for (const [said, is] of [
      [a, told[0].now],
      [most, told[0].most],
      [b, told[1].now],
      [other, told[1].most],
    ])
      assert.ok(Math.abs(said - is) < 0.01 * is, `${title}: ${is}`);
    assert.match(await page.locator('.strips').innerText(), /Dashed: block <script>/);
    // What is drawn: the dashed line's value at each moment is that of the other's motion then.
    const wrong = await page.evaluate(() => {
      const { beside, strips } = window.proveoutBench;
      const { plot } = strips.plots[0],
        of = beside.shown.moving,
        speed = of.of('speed');
      let out = 0;
      for (let m = 0; m < of.count; m++) {
        if (of.kind[m] === 0 || of.timeS[m] < 0.1) continue;
        const at = beside.fromOther(of.startS[m] + of.timeS[m] / 2);
        let k = 0;
        while (k + 1 < plot.data[0].length && plot.data[0][k + 1] <= at) k++;
        if (Math.abs(plot.data[2][k] - speed[m]) > 1) out++;
      }
      return out;
    });
    assert.equal(wrong, 0);
  }));

slow('in what the two differ is coloured in both, and told in mm', () =>
  beside({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await press(page, 'top');
    await choose(page, 'Stock coloured by', 'difference');
    await still(page);
    const captions = await page.locator('.one figcaption').allInnerTexts();
    // The groove's floor is 0.5 higher in this run, the slot's 0.3 lower. Edges are rounded by cells of a voxel, 0.25.
    for (const [i, [more, less]] of [
      [0.5, 0.3],
      [0.3, 0.5],
    ].entries()) {
      const [, m, l] = captions[i].match(/up to ([\d.]+) mm more is left, up to ([\d.]+) mm less/);
      assert.ok(Math.abs(m - more) < 0.03 && Math.abs(l - less) < 0.03, captions[i]);
    }
    for (const [place, own, other, mm] of [
      [[40, 12, -4.3], 'less', 'more', 0.3],
      [[40, 28, -2.5], 'more', 'less', 0.5],
      [[40, 20, 0], '', '', 0],
    ]) {
      const there = [place[0], place[1], place[2] === 0 ? 0 : place[1] === 12 ? -4 : -3];
      for (const [said, words] of [
        [await clickOn(page, place, null), own],
        [await clickOther(page, there), other],
      ]) {
        const [, far, which] = said.match(/([\d.]+) mm (less|more) than the other leaves/);
        assert.ok(Math.abs(far - mm) < 0.02, `${said}: ${mm}`);
        if (words) assert.equal(which, words);
      }
      await page.evaluate(() => {
        window.proveoutBench.view.mark([]);
        window.proveoutBench.beside.shown.view.mark([]);
      });
      const hue = { less: isPurple, more: isOrange, '': isWhite };
      const [seen] = await pixels(page, place),
        beyond = await otherPixel(page, there);
      assert.ok(hue[own](seen), `${seen} at ${place}`);
      assert.ok(hue[other](beyond), `${beyond} at ${there}`);
    }
    // While it is cut too, held against what the other leaves at the end: before the second pass the floor lies at -2.
    await slideTo(page, await timeOfLine(page, 0, 7, 0.9));
    const [, far] = (await clickOn(page, [40, 12, -2], null)).match(/([\d.]+) mm( or more)? more than the other leaves/);
    assert.ok(Math.abs(far - 2) < 0.03, `${far} for 2 mm`);
    // Setup B is cut by the same program: from above nothing differs, from below what side A left does.
    await press(page, 'Setup B');
    await still(page);
    await press(page, 'top');
    assert.match(await clickOn(page, [38, 28, -3], null), /0(\.0\d+)? mm (less|more) than/);
    assert.ok(isWhite((await pixels(page, [50, 36, 0]))[0]));
    await choose(page, 'Stock coloured by', 'tool');
    assert.doesNotMatch(await clickOn(page, [38, 28, -3], null), /than the other/);
  }));

slow('a click in the other picture names its own program', () =>
  beside({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await press(page, 'top');
    assert.match(await clickOther(page, [42, 12.5, -4]), /T1 6 mm flat, setup A\s+side-a\.nc line 11/);
    assert.match(await clickOn(page, [42, 12.5, -4.3], null), /again\.nc line 11/);
    await page.locator('.beside').getByRole('button', { name: 'Show that moment' }).click();
    await still(page);
    assert.equal((await moments(page))[1].line, 11);
    await choose(page, 'Beside', '-1');
    assert.equal(await page.locator('.pictures canvas:visible').count(), 1);
    assert.equal(await page.locator('.strips').getByText('Dashed').count(), 0);
    await choose(page, 'Beside', '0');
    await opened(page);
    assert.equal(await page.locator('.pictures canvas:visible').count(), 2);
  }));

slow('a clamp is red while a tool runs into it', () =>
  beside({}, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await choose(page, 'Beside', '-1');
    await press(page, 'top');
    await page.locator('.picture canvas').first().focus();
    for (let k = 0; k < 3; k++) await page.keyboard.press('-');
    const red = ([r, g, b]) => r > 1.5 * g && r > 1.5 * b;
    const { findings } = await page.evaluate(() => window.proveoutBench.about);
    const into = findings.filter((f) => f.kind === 'fixture-contact' && /fixture 'clamp'/.test(f.text));
    assert.ok(into.length > 0);
    // The tool comes from x = -5 along y = 12, the clamp's left edge at x = 62 is reached at the end of the line.
    await slideTo(page, await timeOfLine(page, 0, into[0].line, 0.99));
    assert.ok(red((await pixels(page, [69, 10, 2]))[0]), `${await pixels(page, [69, 10, 2])}`);
    await slideTo(page, await timeOfLine(page, 0, 18, 0.5));
    assert.ok(!red((await pixels(page, [69, 10, 2]))[0]));
  }));

test("hostile text of the other's stays text", () =>
  beside({ url: compared('out-markup') }, async (page) => {
    // It has one setup: what goes with side B there is none of, and that is said.
    assert.match(await page.locator('.beside figcaption').innerText(), /has no setup that goes with B/);
    await press(page, 'Setup A');
    assert.equal(await page.locator('[data-hostile]').count(), 0);
    assert.equal(await page.evaluate(() => document.documentElement.dataset.hit), undefined);
    assert.equal(await page.locator('script').count(), 5);
    assert.match(await page.locator('.beside figcaption').innerText(), /data-hostile/);
  }));

test('without its page there is no second picture, and the page says why', () =>
  using({ url: compared('no-page') }, async (page) => {
    assert.equal(await page.locator('.pictures canvas').count(), 1);
    assert.equal(await page.getByLabel('Beside', { exact: true }).count(), 0);
    assert.match(await page.locator('#bench').innerText(), /No picture of no-page: there is no report\.html beside the result/);
    const by = await page.getByLabel('Stock coloured by', { exact: true }).locator('option').allInnerTexts();
    assert.ok(!by.some((words) => /difference/.test(words)), `${by}`);
  }));

slow('both pictures and the slider fit one screen', () =>
  beside({ media: { reducedMotion: 'reduce' } }, async (page) => {
    for (const [width, height] of [
      [1366, 650],
      [844, 390],
      [390, 844],
    ]) {
      await page.setViewportSize({ width, height });
      await still(page);
      await page.evaluate(() => document.getElementById('bench').scrollIntoView());
      for (const of of ['.one canvas', '.beside canvas', '#moment']) {
        const box = await page.locator(of).first().boundingBox();
        assert.ok(box.y >= -1 && box.y + box.height <= height, `${of}: ${box.y} to ${box.y + box.height}`);
        assert.ok(box.width > 0.35 * Math.min(width, 900), `${of}: ${box.width} wide`);
      }
      // Charts are drawn anew once the window has its size.
      await page.waitForFunction((w) => document.documentElement.scrollWidth <= w, width);
    }
  }));

test('compare --html shows the same two', () =>
  beside({ url: compared('out') }, async (page, { asked }) => {
    assert.equal(asked.length, 1);
    assert.equal(await page.locator('.pictures canvas').count(), 2);
    const [own, other] = await page.locator('.one figcaption').allInnerTexts();
    assert.match(own, /^block again, .*setup B, side-b\.nc/);
    assert.match(other, /^out, .*setup B, side-b\.nc/);
    assert.match(await page.locator('#more').innerText(), /All setups/);
  }));

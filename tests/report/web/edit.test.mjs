// The job changed on the page: by the picture of its setups, by form and text; runs beside each other; what the browser keeps.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdirSync, readdirSync, readFileSync, writeFileSync, cpSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { demo, ended, files, give, kept, long, looked, native, status, top, using } from './start_page.mjs';

const text = (page) => page.inputValue('#job-text');
// A change by work, until the job was read again.
async function changing(page, work) {
  await page.evaluate(() => { document.getElementById('job').dataset.looked = ''; });
  await work();
  await page.waitForFunction(() => document.getElementById('job').dataset.looked !== '', null, long);
  await drawn(page);
}
// The pictures have their size and are drawn: two frames later nothing moves any more.
async function drawn(page) {
  await page.waitForFunction(() => [...document.querySelectorAll('canvas.layout')].every((c) => c.dataset.scale));
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}
async function drag(page, canvas, from, by) {
  await canvas.scrollIntoViewIfNeeded();
  const box = await canvas.boundingBox();
  await page.mouse.move(box.x + from[0], box.y + from[1]);
  await page.mouse.down();
  await page.mouse.move(box.x + from[0] + by[0] / 2, box.y + from[1] + by[1] / 2);
  await page.mouse.move(box.x + from[0] + by[0], box.y + from[1] + by[1]);
  await page.mouse.up();
}
const data = (canvas) => canvas.evaluate((c) => ({ scale: Number(c.dataset.scale), zero: c.dataset.zero.split(' ').map(Number) }));

test('the zero is dragged, a clamp put down, drawn out and taken away, the work turned: each in the text', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await looked(page, '0');
    await drawn(page);
    const above = page.locator('canvas.layout').first();
    assert.equal(await page.locator('canvas.layout').count(), 4, 'two setups, from above and from the front');
    const before = await text(page);
    // 20 mm to the right and 10 up, in the machine's axes.
    let at = await data(above);
    await changing(page, () => drag(page, above, at.zero, [20 * at.scale, -10 * at.scale]));
    assert.equal(await text(page), before.replace('z = "top" }', 'z = "top", offset = [20, 10, 0] }'));
    await changing(page, () => page.fill('#job-text', before));
    // A clamp at the blank's left front corner, on its top; the zero lies in its middle: 160 x 60 mm.
    await changing(page, () => page.getByLabel('Add a clamp to setup A').click());
    assert.ok((await text(page)).includes('name = "clamp 1"\nbox = [[-100, -30, 0], [-72, -10, 10]]\n[[setups]]\nname = "B"'));
    // Its right edge is drawn 5 mm out, at the height of its middle.
    at = await data(above);
    await changing(page, () => drag(page, above, [at.zero[0] - 72 * at.scale, at.zero[1] + 20 * at.scale], [5 * at.scale, 0]));
    assert.ok((await text(page)).includes('box = [[-100, -30, 0], [-67, -10, 10]]'));
    // By keyboard: a number typed.
    const low = page.getByLabel('clamp 1, from X, mm');
    await low.focus();
    await changing(page, async () => {
      await page.keyboard.press('Control+A');
      await page.keyboard.type('-90.25');
      await page.keyboard.press('Tab');
    });
    assert.ok((await text(page)).includes('box = [[-90.25, -30, 0], [-67, -10, 10]]'));
    await changing(page, () => page.getByLabel('Take clamp 1 away').click());
    assert.equal(await text(page), before);
    await changing(page, () => page.getByLabel('Turn the work of setup A by 90 degrees about z').click());
    assert.equal(await text(page), before.replace('y = "centre", z = "top" }\n', 'y = "centre", z = "top" }\nturn = [{ about = "z", degrees = 90 }]\n'));
  }));

test('a mistake in a table on one line stands at its own field, and the picture says that it is older', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await looked(page, '0');
    const before = await text(page);
    await changing(page, () => page.fill('#job-text', before.replace('x = "centre", y = "centre"', 'x = "middle", y = "centre"')));
    const wrong = page.locator('#job-form [aria-invalid="true"]');
    assert.deepEqual(await wrong.evaluateAll((all) => all.map((e) => [e.id, e.value])), [['value-setups_zero-0-x', 'middle']]);
    assert.match(await page.locator('#layout-note').innerText(), /before the mistake/);
    await changing(page, () => page.fill('#job-text', before));
    assert.equal(await wrong.count(), 0);
  }));

test('a value or a table that is not there is added by the form', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await looked(page, '0');
    const add = (id, key) => changing(page, () => page.locator(id).evaluate((e, k) => { e.value = k; e.dispatchEvent(new Event('change')); }, key));
    await add('#further-setups_zero-0', 'setups.zero.offset');
    assert.ok((await text(page)).includes('z = "top", offset = [0, 0, 0] }'));
    await add('#further-machine-0', 'machine.waits');
    await add('#further-setups-1', 'setups.fixtures');
    assert.match(await text(page), /\[\[setups\.fixtures\]\]\nname = ""\nbox = \[\[0, 0, 0\], \[10, 10, 10\]\]\n\n?\[quote\]/);
    await add('#further--0', 'tools');
    assert.match(await text(page), /\[\[tools\]\]\nnumber = 0/);
  }));

test('an edit, and what changed: from kept stages, beside the run before, with the native bytes', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await looked(page, '0');
    const run = async () => {
      await page.fill('#run-voxel', '2');
      await page.click('#run-go');
      await ended(page);
      return Number(await page.locator('#run').getAttribute('data-seconds'));
    };
    const first = await run();
    const edited = (await text(page)).replace('spindle = { min_rpm = 6000', 'spindle = { min_rpm = 7000').replace('accel = [400, 400, 250]', 'accel = [300, 300, 250]');
    await changing(page, () => page.fill('#job-text', edited));
    const second = await run();
    console.log(`first run ${first} s, after an edit of the machine ${second} s`);
    const result = JSON.parse((await kept(page, 'result.json')).toString());
    assert.equal(result.run.stretches_cut, 0, 'nothing was cut again');
    assert.ok(result.run.stretches_reused > 3);
    assert.match(await page.locator('#results .changes pre').innerText(), /time .*\n/);
    const folder = join(top, 'edited');
    mkdirSync(folder);
    for (const name of files['good.toml'].slice(1)) cpSync(join(demo, name), join(folder, name));
    writeFileSync(join(folder, 'good.toml'), edited);
    const rival = spawnSync(native, ['run', 'good.toml', '--voxel', '2', '-o', 'out', '--quiet'], { cwd: folder });
    assert.equal(await status(page), String(rival.status));
    assert.ok((await kept(page, 'moves.csv')).equals(readFileSync(join(folder, 'out/moves.csv'))), 'moves.csv');
    // The same in MDF, beside both.
    await page.fill('#run-material', 'mdf');
    await page.locator('#run-made input').first().check();
    await page.locator('#run-made input').nth(1).check();
    await run();
    const words = await page.locator('#results .changes pre').innerText();
    assert.match(words, /material +6061-T6 +6061-T6 +mdf/);
    assert.equal(await page.locator('#run-made input').count(), 3);
  }));

test('machine and tools are kept in the browser, as the files of `proveout shop`, and a job names them', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await looked(page, '0');
    await page.click('#shop-keep');
    await page.waitForSelector('#shop-list li', long);
    const folder = join(top, 'shop');
    const rival = spawnSync(native, ['shop', '--shop', folder, '--keep', join(demo, 'good.toml')], { encoding: 'utf8' });
    assert.equal(rival.status, 0, rival.stderr);
    const theirs = readdirSync(folder, { recursive: true }).filter((n) => n.endsWith('.toml')).sort();
    await page.reload();
    await page.waitForFunction(() => document.documentElement.dataset.engine === 'ready');
    const mine = await page.evaluate(() => JSON.parse(localStorage.getItem('proveout-shop')));
    assert.deepEqual(Object.keys(mine).sort(), theirs);
    for (const name of theirs) assert.equal(mine[name], readFileSync(join(folder, name), 'utf8'), name);
    // A job that names the machine by the kept one's name.
    const machine = /machines\/(.*)\.toml/.exec(theirs.join('\n'))[1];
    const job = readFileSync(join(demo, 'good.toml'), 'utf8').replace(/\[machine\][^[]*(?:\[[^\]]*\][^[]*)*?\n\n\[stock\]/s, `[machine]\nkept = "${machine}"\n\n[stock]`);
    assert.ok(job.includes('kept ='));
    await page.setInputFiles('#choose-files', [{ name: 'named.toml', mimeType: 'text/plain', buffer: Buffer.from(job) }]);
    await give(page, files['good.toml'].slice(1));
    await looked(page, '0');
    const count = await page.locator('#shop-list li').count();
    await page.locator('#shop-list button', { hasText: 'Forget' }).first().click();
    await page.waitForFunction((n) => document.querySelectorAll('#shop-list li').length === n - 1, count, long);
    await page.evaluate(() => localStorage.clear());
  }));

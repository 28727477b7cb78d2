// proveout.html in Debian's Chromium, opened from disk without a network. What it writes is held to the native program's bytes.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { test } from 'node:test';
import { demo, drop, ended, files, give, kept, long, native, root, status, top, using } from './start_page.mjs';

const bad = join(root, 'fixtures/bad');

function natively(job, voxel) {
  const out = join(top, `native-${job}-${voxel}`);
  const run = spawnSync(native, ['run', join(demo, job), '--voxel', voxel, '-o', out, '--quiet'], { encoding: 'utf8' });
  return { status: run.status, read: (name) => readFileSync(join(out, name)) };
}
const withoutRun = (bytes) => {
  const { run, ...rest } = JSON.parse(bytes.toString());
  assert.ok(run.threads >= 1);
  return rest;
};

const voxel = process.env.PROVEOUT_WEB_VOXEL ?? '0.4';
for (const job of Object.keys(files))
  test(`${job} at ${voxel} mm from a file:// address: the native program's bytes`, long, () =>
    using(async (page) => {
      await (job === 'faulty.toml' ? drop : give)(page, files[job]);
      await page.fill('#run-voxel', voxel);
      await page.click('#run-go');
      await ended(page);
      const [coarse, full] = await page.evaluate(() => [document.getElementById('run').dataset.coarse, document.getElementById('run').dataset.seconds]);
      console.log(`${job}: coarse ${coarse} s, full ${full} s`);
      const rival = natively(job, voxel);
      assert.equal(await status(page), String(rival.status));
      assert.ok((await kept(page, 'moves.csv')).equals(rival.read('moves.csv')), 'moves.csv');
      assert.ok((await kept(page, 'junit.xml')).equals(rival.read('junit.xml')), 'junit.xml');
      // Words and findings; figures to their last digits are held by twin.test.mjs, of the same WebAssembly.
      const [mine, theirs] = [await kept(page, 'result.json'), rival.read('result.json')].map(withoutRun);
      for (const key of ['verdict', 'causes', 'findings', 'not_checked', 'inputs']) assert.deepEqual(mine[key], theirs[key], key);
      // The same page: its verdict stands in the frame as in the file that the native program wrote.
      const frame = page.frameLocator('#page');
      const verdict = /"verdict":"(.*?)[.:"]/.exec(rival.read('report.html').toString())?.[1];
      assert.ok(verdict && (await frame.locator('.verdict').innerText()).includes(verdict.slice(0, 40)));
      assert.match(await page.locator('#results .screen').innerText(), /not checked/i);
    }));

test('two programs and a mesh come to a verdict by the keyboard alone', long, () =>
  using(async (page) => {
    await give(page, ['good-a.nc', 'good-b.nc', 'door-pull.stl']); // a browser's own chooser of files is outside the page
    const reach = async (id) => {
      for (let i = 0; i < 200; ++i) {
        if ((await page.evaluate(() => document.activeElement?.id)) === id) return;
        await page.keyboard.press('Tab');
      }
      assert.fail(`the keyboard does not reach ${id}`);
    };
    await reach('propose-blank');
    await page.keyboard.type('160x60x32');
    await reach('propose-go');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => !document.getElementById('job').hidden && document.querySelector('#job-form .unknown'), null, long);
    // What is not known is asked; an answer takes its mark away.
    const open = () => page.locator('#job-form .unknown').count();
    const before = await open();
    assert.ok(before > 5, `${before} questions`);
    const first = await page.locator('#job-form .unknown input').first().getAttribute('id');
    await reach(first);
    await page.keyboard.press('Control+A');
    await page.keyboard.type('3');
    await page.keyboard.press('Tab');
    assert.equal(await open(), before - 1);
    await reach('run-voxel');
    await page.keyboard.type('2');
    await reach('run-go');
    await page.keyboard.press('Enter');
    await ended(page);
    assert.ok(['0', '1'].includes(await status(page)));
    assert.match(await page.locator('#results .screen').innerText(), /not checked/i);
  }));

test('fifty broken job files are answered in the command line\'s words, and the page lives', long, () =>
  using(async (page) => {
    const rows = readFileSync(join(bad, 'cases.tsv'), 'utf8').trim().split('\n').map((r) => r.split('\t'));
    const cases = rows.filter(([kind, file, s]) => kind === 'job' && s === '2' && statSync(join(bad, file)).size < 1e6).filter((_, i) => i % 3 === 0).slice(0, 50);
    assert.equal(cases.length, 50);
    for (const [, file] of cases) {
      const name = file.split('/').pop();
      // As the page has them: the file alone, in a folder of its own.
      const text = readFileSync(join(bad, file));
      const said = await page.evaluate(
        async ([n, bytes]) => window.proveoutStart.once(['run', n, '--no-html', '-o', '/out'], n, new Uint8Array(bytes)),
        [name, [...text]],
      );
      const folder = mkdtempSync(join(top, 'bad-'));
      writeFileSync(join(folder, name), text);
      const rival = spawnSync(native, ['run', name, '--no-html', '-o', join(folder, 'out')], { cwd: folder, encoding: 'utf8' });
      assert.deepEqual({ file, status: said.status, said: said.text.trimEnd() }, { file, status: rival.status, said: (rival.stdout + rival.stderr).trimEnd() });
    }
    await give(page, files['good.toml']);
    await page.waitForFunction(() => document.getElementById('job').dataset.looked === '0', null, long);
  }));

test('ten broken job files dropped, one after the other: the command line\'s messages at their places, and the page lives', long, () =>
  using(async (page) => {
    const rows = readFileSync(join(bad, 'cases.tsv'), 'utf8').trim().split('\n').map((r) => r.split('\t'));
    const cases = rows.filter(([kind, file, s]) => kind === 'job' && s === '2' && statSync(join(bad, file)).size < 1e5).filter((_, i) => i % 15 === 7).slice(0, 10);
    assert.equal(cases.length, 10);
    for (const [, file] of cases) {
      const name = file.split('/').pop();
      await page.evaluate(() => document.getElementById('forget').click());
      await page.evaluate(() => { document.getElementById('job').dataset.looked = ''; });
      await drop(page, [file], bad);
      await page.waitForFunction(() => document.getElementById('job').dataset.looked === '2', null, long);
      const folder = mkdtempSync(join(top, 'dropped-'));
      writeFileSync(join(folder, name), readFileSync(join(bad, file)));
      const rival = spawnSync(native, ['run', name, '--forecast'], { cwd: folder, encoding: 'utf8' });
      const said = (await page.locator('#job-said pre').count()) ? await page.locator('#job-said pre').evaluate((e) => e.textContent) : await page.locator('#job-said').evaluate((e) => e.textContent);
      assert.ok(said.includes(rival.stderr.trim().split('\n')[0]), `${file}: ${said} and ${rival.stderr}`);
    }
    await page.evaluate(() => document.getElementById('forget').click());
    await drop(page, files['good.toml']);
    await page.waitForFunction(() => document.getElementById('job').dataset.looked === '0', null, long);
  }));

test('a mistake in the text stands at its line and at its field', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await page.waitForFunction(() => document.getElementById('job').dataset.looked === '0', null, long);
    const text = await page.inputValue('#job-text');
    await page.fill('#job-text', text.replace('diameter = 6', 'diameter = -6'));
    await page.waitForFunction(() => document.getElementById('job').dataset.looked === '2', null, long);
    assert.match(await page.locator('#job-said li.error').first().innerText(), /good\.toml, line \d+.*out of range/s);
    assert.ok((await page.locator('#job-lines span.error').count()) >= 1);
    assert.ok((await page.locator('#job-form [aria-invalid="true"]').count()) >= 1);
    await page.locator('#job-said li.error button').first().click();
    assert.equal(await page.evaluate(() => { const a = document.getElementById('job-text'); return a.value.slice(a.selectionStart, a.selectionEnd); }), 'diameter = -6');
  }));

test('a run is stopped, files given meanwhile wait, and the next run goes on', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await page.click('#run-go');
    await page.waitForFunction(() => /%/.test(document.getElementById('run-state').textContent), null, long);
    await give(page, files['faulty.toml']);
    await page.waitForFunction(() => /goes on/.test(document.getElementById('files-said').textContent));
    await page.click('#run-stop');
    await ended(page);
    assert.equal(await status(page), '130');
    await page.selectOption('#which-job', 'faulty.toml');
    await page.fill('#run-voxel', '3');
    await page.uncheck('#run-coarse');
    await page.click('#run-go');
    await ended(page);
    assert.equal(await status(page), '1');
  }));

test('a job too large for a browser is told so before it is cut', long, () =>
  using(async (page) => {
    await give(page, files['good.toml']);
    await page.fill('#run-voxel', '0.01');
    await page.click('#run-go');
    await ended(page);
    assert.equal(await status(page), '2');
    assert.match(await page.locator('#run-said').innerText(), /would need about [0-9.]+ GB.*The command line/s);
  }));

for (const [name, settings] of [['light', { media: { colorScheme: 'light' } }], ['dark', { media: { colorScheme: 'dark' } }], ['phone', { viewport: { width: 390, height: 844 } }]])
  test(`axe finds nothing to mend, ${name}`, long, () =>
    using(async (page) => {
      const look = async () => {
        const { violations } = await page.evaluate(() => window.axe.run({ iframes: false }));
        assert.deepEqual(violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.target}`)), []);
        assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= window.innerWidth), 'nothing stands beside the screen');
      };
      await page.addScriptTag({ path: createRequire(import.meta.url).resolve('axe-core/axe.min.js') }).catch(() => undefined);
      if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8'));
      await look();
      await give(page, ['good-a.nc', 'door-pull.stl']);
      await page.waitForSelector('#propose-go');
      await look();
      await give(page, files['good.toml']);
      await page.waitForFunction(() => document.getElementById('job').dataset.looked === '0', null, long);
      await page.fill('#run-voxel', '3');
      await page.click('#run-go');
      await ended(page);
      await look();
    }, settings));

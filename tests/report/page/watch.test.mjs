// A page that `proveout watch` wrote, in a browser while its job changes: it loads the newer page and stays where it was.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { copyFileSync, existsSync, mkdtempSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { openPage, press, slideTo, still, withBrowser } from './browser.mjs';

const until = async (what, holds) => {
  for (let i = 0; i < 600; ++i) {
    if (holds()) return;
    await new Promise((next) => setTimeout(next, 100));
  }
  assert.fail(`${what}: not within a minute`);
};

test('a newer page is loaded, and setup, moment and eye stay', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'proveout-watch-'));
  const job = process.env.PROVEOUT_JOB;
  for (const name of readdirSync(job)) copyFileSync(join(job, name), join(folder, name));
  const out = join(folder, 'out');
  const watch = spawn(process.env.PROVEOUT, ['watch', join(folder, 'block.toml'), '--voxel', '1', '-o', out]);
  const ended = new Promise((done) => watch.on('exit', done));
  try {
    await until('the first page', () => existsSync(join(out, 'page-version.js')));
    await withBrowser(async (context) => {
      const { page, trouble } = await openPage(context, pathToFileURL(join(out, 'report.html')).href);
      const state = () =>
        page.evaluate(() => ({
          version: window.proveoutBench.about.watched,
          kept: JSON.parse(JSON.stringify(window.proveoutBench.kept)),
        }));
      page.setDefaultTimeout(60000);
      await press(page, 'Setup A');
      await slideTo(page, 12);
      await page.locator('.picture canvas').press('ArrowLeft');
      await page.locator('.picture canvas').press('ArrowUp');
      await still(page);
      const before = await state();
      assert.equal(before.kept.setup, 'A');
      assert.equal(before.kept.eye.look, null);

      const program = join(folder, 'side-b.nc');
      writeFileSync(`${program}.tmp`, readFileSync(program, 'utf8').replace(/^%?/, '$&\n(posted again)\n'));
      renameSync(`${program}.tmp`, program);
      await page.waitForFunction((v) => window.proveoutBench && window.proveoutBench.about.watched !== v, before.version);
      await still(page);
      const after = await state();
      assert.deepEqual({ ...after.kept, eye: null }, { ...before.kept, eye: null });
      for (const key of ['target', 'away'])
        after.kept.eye[key].forEach((v, k) => assert.ok(Math.abs(v - before.kept.eye[key][k]) < 1e-6, `${key} ${k}`));
      assert.equal(after.kept.eye.look, null);
      assert.deepEqual(trouble, [], 'the browser complained');
    });
  } finally {
    watch.kill('SIGINT');
    assert.equal(await ended, 0);
    rmSync(folder, { recursive: true, force: true });
  }
});

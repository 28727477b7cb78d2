// proveout.html in Debian's Firefox, opened from disk: the demo and its faulty twin to the native program's bytes.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { withFirefox } from './firefox.mjs';

const { PROVEOUT_NATIVE: native, PROVEOUT_HTML: html, PROVEOUT_ROOT: root } = process.env;
const demo = join(root, 'fixtures/door-pull');
const voxel = process.env.PROVEOUT_WEB_VOXEL ?? '0.4';

test(`the door pull and its faulty twin at ${voxel} mm in Firefox from a file:// address`, { timeout: 3_600_000 }, () =>
  withFirefox(async (page) => {
    await page.goto(pathToFileURL(html).href);
    await page.evaluate(async () => {
      while (document.documentElement.dataset.engine !== 'ready') await new Promise((soon) => setTimeout(soon, 50));
    });
    for (const job of ['good', 'faulty']) {
      await page.evaluate(() => document.getElementById('forget').click());
      await page.choose('#choose-files', [`${job}.toml`, `${job}-a.nc`, `${job}-b.nc`, 'door-pull.stl', 'router.toml'].map((n) => join(demo, n)));
      const mine = await page.evaluate(async (size) => {
        while (document.getElementById('job').hidden) await new Promise((soon) => setTimeout(soon, 50));
        const run = document.getElementById('run');
        document.getElementById('run-voxel').value = size;
        document.getElementById('run-coarse').checked = false;
        document.getElementById('run-go').click();
        while (!run.dataset.ended) await new Promise((soon) => setTimeout(soon, 100));
        const text = (name) => window.proveoutStart.result(name);
        return { status: run.dataset.ended, seconds: run.dataset.seconds, moves: text('moves.csv'), junit: text('junit.xml'), result: text('result.json') };
      }, voxel);
      console.log(`Firefox, ${job}: ${mine.seconds} s`);
      const out = mkdtempSync(join(tmpdir(), 'proveout-firefox-'));
      try {
        const rival = spawnSync(native, ['run', join(demo, `${job}.toml`), '--voxel', voxel, '-o', out, '--quiet']);
        assert.equal(mine.status, String(rival.status));
        const read = (name) => readFileSync(join(out, name), 'utf8');
        assert.ok(mine.moves === read('moves.csv'), `${job}: moves.csv`);
        assert.ok(mine.junit === read('junit.xml'), `${job}: junit.xml`);
        const [a, b] = [mine.result, read('result.json')].map((t) => JSON.parse(t));
        for (const key of ['verdict', 'causes', 'findings', 'not_checked', 'inputs']) assert.deepEqual(a[key], b[key], `${job}: ${key}`);
      } finally {
        rmSync(out, { recursive: true, force: true });
      }
    }
  }));

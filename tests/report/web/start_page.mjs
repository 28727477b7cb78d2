// proveout.html in Debian's Chromium, opened from disk without a network: what its tests share.
import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before } from 'node:test';
import { pathToFileURL } from 'node:url';
import { withBrowser } from './browser.mjs';

export const { PROVEOUT_NATIVE: native, PROVEOUT_HTML: html, PROVEOUT_ROOT: root } = process.env;
export const demo = join(root, 'fixtures/door-pull');
export const long = { timeout: 1_800_000 }; // one core shared with others: minutes

export let top;
let context, done, finished;
before(async () => {
  top = mkdtempSync(join(tmpdir(), 'proveout-start-'));
  await new Promise((ready) => {
    finished = withBrowser((c) => {
      context = c;
      ready();
      return new Promise((resolve) => (done = resolve));
    });
  });
});
after(async () => {
  done();
  await finished;
  rmSync(top, { recursive: true, force: true });
});

export const using = async (work, settings = {}) => {
  const page = await context.newPage();
  page.setDefaultTimeout(120_000);
  const trouble = [];
  const asked = [];
  page.on('pageerror', (e) => trouble.push(String(e)));
  page.on('console', (m) => m.type() === 'error' && trouble.push(m.text()));
  page.on('request', (r) => /^(data|blob):/.test(r.url()) || asked.push(r.url()));
  await page.setViewportSize(settings.viewport ?? { width: 1366, height: 768 });
  if (settings.media) await page.emulateMedia(settings.media);
  await page.goto(pathToFileURL(html).href);
  await page.waitForFunction(() => document.documentElement.dataset.engine === 'ready');
  try {
    await work(page, asked);
    assert.deepEqual(trouble, [], 'the browser complained');
    assert.deepEqual([...new Set(asked)], [pathToFileURL(html).href], 'nothing else is asked for');
  } finally {
    await page.close();
  }
};
export const give = (page, names, from = demo) => page.setInputFiles('#choose-files', names.map((n) => join(from, n)));
// As a mouse drops files from a folder's window.
export const drop = (page, names, from = demo) =>
  page.evaluate(
    (all) => {
      const dataTransfer = new DataTransfer();
      for (const [name, bytes] of all) dataTransfer.items.add(new File([Uint8Array.from(atob(bytes), (c) => c.charCodeAt(0))], name));
      for (const kind of ['dragover', 'drop']) document.body.dispatchEvent(new DragEvent(kind, { dataTransfer, bubbles: true, cancelable: true }));
    },
    names.map((name) => [name.split('/').pop(), readFileSync(join(from, name)).toString('base64')]),
  );
export const ended = (page) => page.waitForFunction(() => document.getElementById('run').dataset.ended, null, long);
export const status = (page) => page.evaluate(() => document.getElementById('run').dataset.ended);

// The job as it stands was read, with that exit status.
export const looked = (page, with_status) => page.waitForFunction((s) => document.getElementById('job').dataset.looked === s, with_status, long);

export async function kept(page, name) {
  await page.locator('#results details.files').evaluate((d) => (d.open = true));
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: `Save ${name}`, exact: true }).click()]);
  const path = join(top, name);
  await download.saveAs(path);
  return readFileSync(path);
}

export const files = {
  'good.toml': ['good.toml', 'good-a.nc', 'good-b.nc', 'door-pull.stl', 'router.toml'],
  'faulty.toml': ['faulty.toml', 'faulty-a.nc', 'faulty-b.nc', 'door-pull.stl', 'router.toml'],
};

// Debian's Chromium through playwright-core, without a network and with a profile of its own.
import { mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

const flags = [
  '--headless',
  '--no-sandbox',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  // Without a graphics card the page's pictures are drawn by the processor, and the page around them as Chromium does
  // then by itself; to have that go by way of WebGL's drawing too takes twice the time and is nobody's browser.
  '--enable-unsafe-swiftshader',
  '--host-resolver-rules=MAP * ~NOTFOUND',
];

// Seconds of the browser's processes of one type, from Linux's /proc.
export function processorTime(type) {
  const tree = new Map(); // process -> [parent, ticks]
  for (const id of readdirSync('/proc').filter((name) => /^\d+$/.test(name))) {
    try {
      const words = readFileSync(`/proc/${id}/stat`, 'latin1').replace(/^.*\) /s, '').split(' ');
      tree.set(id, [words[1], Number(words[11]) + Number(words[12])]);
    } catch {
      continue; // it has ended meanwhile
    }
  }
  const ours = (id) => id === String(process.pid) || (tree.has(id) && ours(tree.get(id)[0]));
  let ticks = 0;
  for (const [id, [, own]] of tree) {
    if (!ours(id)) continue;
    try {
      if (readFileSync(`/proc/${id}/cmdline`, 'latin1').includes(`--type=${type}`)) ticks += own;
    } catch {
      continue;
    }
  }
  return ticks / 100; // USER_HZ
}

export async function withBrowser(work) {
  const profile = mkdtempSync(join(tmpdir(), 'proveout-page-'));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.PROVEOUT_CHROMIUM ?? '/usr/bin/chromium',
    headless: true,
    args: flags,
    viewport: { width: 1100, height: 760 },
  });
  try {
    await work(context);
  } finally {
    await context.close();
    rmSync(profile, { recursive: true, force: true });
  }
}

// A page that keeps what the browser complained about and asked for.
export async function openPage(context, url, settings = {}) {
  const page = await context.newPage();
  if (settings.first) await page.addInitScript(settings.first);
  page.setDefaultTimeout(120000); // a busy machine draws slowly
  const trouble = [],
    asked = [];
  page.on('console', (m) => {
    if (['error', 'warning'].includes(m.type()) && !/GPU stall due to ReadPixels/.test(m.text()))
      trouble.push(m.text());
  });
  page.on('pageerror', (e) => trouble.push(String(e)));
  page.on('request', (r) => {
    if (!r.url().startsWith('data:') && !r.url().startsWith('blob:')) asked.push(r.url());
  });
  if (settings.viewport) await page.setViewportSize(settings.viewport);
  if (settings.media) await page.emulateMedia(settings.media);
  await page.goto(url);
  await page.waitForFunction(
    () => ['all', 'text only'].includes(document.documentElement.dataset.shown),
    null,
    { timeout: 120000 },
  );
  return { page, trouble, asked };
}

// The moment is worked out and what is drawn of it is shaded: clicks and words are of this moment. Whether its picture is
// drawn to the end yet is another matter, and takes long without a graphics card.
export const still = (page) =>
  page.waitForFunction(
    () =>
      window.proveoutBench.sides.every((side) => !side.view?.stock.unshaded) &&
      document.getElementById('bench').getAttribute('aria-busy') === 'false',
  );
// Drawn to the end as well: for what looks at the picture itself.
export async function whole(page) {
  await still(page);
  await page.waitForFunction(() =>
    [...document.querySelectorAll('.picture canvas')].every((c) => c.dataset.drawn === 'whole'),
  );
}
// Brings the slider to a moment, the way a hand would, and waits until it is worked out.
export async function slideTo(page, time) {
  await page.locator('#moment').evaluate((slider, t) => {
    slider.value = String(t);
    slider.dispatchEvent(new Event('input', { bubbles: true }));
  }, time);
  await still(page);
}
export async function press(page, name) {
  await page.getByRole('button', { name, exact: true }).click();
  await still(page);
}
export const choose = async (page, label, value) => {
  await page.getByLabel(label, { exact: true }).selectOption(value);
  await still(page);
};
// Looks from above, clicks where a point of the setup's frame is drawn, and reads the answer.
export async function clickOn(page, place, look = 'top') {
  if (look) await press(page, look);
  const at = await page.evaluate((p) => window.proveoutBench.project(p), place);
  await page.locator('.picture canvas').first().click({ position: at });
  return page.locator('.picked').last().innerText();
}
export const timeOfLine = (page, setup, line, share) =>
  page.evaluate(
    ([s, l, f]) => {
      const motions = window.proveoutBench.motions[s],
        m = motions.line.indexOf(l);
      if (m < 0) throw new Error(`no motion of line ${l}`);
      return motions.startS[m] + motions.timeS[m] * f;
    },
    [setup, line, share],
  );
// Red, green and blue of the picture's pixels in a square about a place, from 0 to 255 each.
export const pixels = (page, place, half = 0) =>
  page.evaluate(
    async ([p, h]) => {
      const canvas = document.querySelector('.picture canvas');
      do await new Promise((ready) => requestAnimationFrame(() => requestAnimationFrame(ready)));
      while (canvas.dataset.drawn !== 'whole');
      const copy = document.createElement('canvas');
      [copy.width, copy.height] = [canvas.width, canvas.height];
      const context = copy.getContext('2d');
      context.drawImage(canvas, 0, 0);
      const scale = canvas.width / canvas.clientWidth;
      const { x, y } = window.proveoutBench.project(p);
      const side = 2 * h + 1;
      const { data } = context.getImageData(
        Math.round(x * scale) - h,
        Math.round(y * scale) - h,
        side,
        side,
      );
      return Array.from({ length: side * side }, (_, i) => [...data.slice(4 * i, 4 * i + 3)]);
    },
    [place, half],
  );

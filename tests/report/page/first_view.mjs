// node first_view.mjs REPORT.html [TIMES]: how long a page takes to its first view, in a fresh browser
// each time, two seconds after that has started. Not a test: the figures depend on the machine, and on what else it does.
//   text: the first paint with contents (verdict, findings, tables), by the browser's own clock
//   picture: the stock drawn as well, each face plainly
//   shaded: the same smoothly, with what lies in the shade
//   page, drawing: processor time of the page itself and of the process that draws, until then
// All from the start of the navigation, in seconds: median and largest.
import { statSync } from 'node:fs';
import { loadavg } from 'node:os';
import { resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { processorTime, whole, withBrowser } from './browser.mjs';

const file = resolve(process.argv[2]);
const times = Number(process.argv[3] ?? 7);

async function once() {
  let figures;
  await withBrowser(async (context) => {
    const page = await context.newPage();
    await page.addInitScript(() => {
      new MutationObserver(() => {
        if (document.documentElement?.dataset.shown === 'all')
          window.shownAt ??= performance.now() / 1000;
      }).observe(document, { subtree: true, attributes: true, attributeFilter: ['data-shown'] });
    });
    await page.waitForTimeout(2000); // a browser that has just started has work of its own
    const before = [processorTime('renderer'), processorTime('gpu-process')];
    await page.goto(pathToFileURL(file).href);
    await page.waitForFunction(() => window.shownAt !== undefined, null, { timeout: 120000 });
    figures = await page.evaluate(() => ({
      text: performance.getEntriesByName('first-contentful-paint')[0].startTime / 1000,
      picture: window.shownAt,
    }));
    await whole(page);
    figures.shaded = await page.evaluate(() => performance.now() / 1000);
    figures.page = processorTime('renderer') - before[0];
    figures.drawing = processorTime('gpu-process') - before[1];
  });
  return figures;
}

const runs = [];
for (let i = 0; i < times; ++i) runs.push(await once());
console.log(
  `${file}: ${(statSync(file).size / 1e6).toFixed(1)} MB, ${times} times, load ${loadavg()[0].toFixed(1)}`,
);
for (const what of ['text', 'picture', 'shaded', 'page', 'drawing']) {
  const sorted = runs.map((r) => r[what]).sort((a, b) => a - b);
  console.log(
    `${what}: median ${sorted[times >> 1].toFixed(2)} s, largest ${sorted.at(-1).toFixed(2)} s`,
  );
}

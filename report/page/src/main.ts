// Text first, from the small part of the data; then the packed columns, the picture and the strips.
import { Bench } from './bench.ts';
import { Bulk, readAbout, type Finding } from './data.ts';
import { byId, el } from './dom.ts';
import { figures, findings, head, limits, loads, more, type Go } from './lists.ts';
import { sheet } from './sheet.ts';
import type { Ink } from './strips.ts';
import { timeTables } from './time_table.ts';
import { keptByLast, lookForNewer } from './watch.ts';

const root = document.documentElement;
const colour = (name: string) => getComputedStyle(root).getPropertyValue(name).trim();
const ink = (): Ink => ({ text: colour('--ink'), rule: colour('--rule'), line: colour('--trace') });

const about = readAbout();
let bench: Bench | null = null;
const jump = (finding: Finding) => {
  bench?.jump(finding);
  byId('bench').scrollIntoView({ block: 'start' });
};
const go: Go = (setup, tool, line) => {
  bench?.goLine(setup, tool, line);
  byId('bench').scrollIntoView({ block: 'start' });
};

function retheme() {
  bench?.retheme(colour('--stage'), colour('--cut-face'));
  byId('loads').replaceChildren(...loads(about, ink(), go));
}

byId('head').append(
  ...head(about),
  el(
    'button',
    {
      type: 'button',
      class: 'theme no-print',
      click: () => {
        const dark = root.dataset.theme
          ? root.dataset.theme === 'dark'
          : matchMedia('(prefers-color-scheme: dark)').matches;
        root.dataset.theme = dark ? 'light' : 'dark';
        retheme();
      },
    },
    'Light or dark',
  ),
);
byId('findings').append(...findings(about, jump));
byId('limits').append(...limits(about));
byId('figures').append(...figures(about, go));
byId('loads').append(...loads(about, ink(), go));
byId('more').append(...more(about, go));
byId('sheet').append(...sheet(about));
root.dataset.shown = 'text';
if (about.watched) lookForNewer(about.watched, () => bench);

// A frame with the text goes to the screen before anything else is worked out; a page that is not looked at has none.
const painted = () =>
  new Promise<void>((ready) => {
    requestAnimationFrame(() => setTimeout(ready));
    setTimeout(ready, 500);
  });

async function start() {
  await painted();
  const bulk = await Bulk.read();
  if (about.setups.length === 0) return;
  bench = new Bench(byId('bench'), about, bulk, ink);
  const kept = about.watched ? keptByLast() : null;
  if (!kept || !bench.restore(kept)) bench.show(about.setups.length - 1, null);
  byId('figures').append(...timeTables(about, bench.motions, go));
  bench.retheme(colour('--stage'), colour('--cut-face'));
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', retheme);
  (window as unknown as { proveoutBench: Bench }).proveoutBench = bench;
  const all = () => {
    root.dataset.shown = 'all';
    void bench!.beside?.open();
  };
  if (bench.view) bench.view.onceDrawn(all);
  else all();
}

start().catch((error: unknown) => {
  byId('bench').append(
    el(
      'p',
      {},
      `The replay could not be opened: ${error instanceof Error ? error.message : String(error)}. The findings and tables below are complete.`,
    ),
  );
  root.dataset.shown = 'text only';
});

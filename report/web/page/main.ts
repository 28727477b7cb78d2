// The start page: files in, a job proposed or read, run, results out.
import { byId, el } from '../../page/src/dom';
import { changed, fill, held, kind, ofKind, onChange, putAway, readShop, saidText, state, take } from './app';
import { outFolder, ready, Run } from './engine';
import { bytesOf, chosen, dropped, size, text, TooMuch } from './files';
import { showJob } from './job_view';
import { showMore } from './more_view';
import { showPropose } from './propose_view';
import { lastFile, openPage, runAgain, showRun } from './run_view';
import { showShop } from './shop_view';
import { canWatch, watchFolder } from './watched_folder';

const kinds: Record<string, string> = {
  job: 'job file', table: 'table (tools, machine or materials)', program: 'NC program', mesh: 'mesh', result: 'kept result', page: 'kept page', other: 'unknown, kept beside',
};

function showHeld(): void {
  const rows = [...held.entries()].sort(([a], [b]) => a.localeCompare(b));
  const jobs = ofKind('job');
  byId('forget').hidden = rows.length === 0;
  fill(
    byId('held'),
    rows.length === 0
      ? el('p', { class: 'small' }, 'No files yet.')
      : el(
          'table',
          {},
          el('thead', {}, el('tr', {}, el('th', { scope: 'col' }, 'File'), el('th', { scope: 'col' }, 'Taken as'), el('th', { scope: 'col' }, 'Size'), el('th', { scope: 'col' }, el('span', { class: 'unseen' }, 'What to do with it')))),
          el(
            'tbody',
            {},
            ...rows.map(([path, bytes]) =>
              el(
                'tr',
                {},
                el('th', { scope: 'row' }, path),
                el('td', {}, kinds[kind(path)]),
                el('td', { class: 'n' }, size(bytes.length)),
                el('td', {}, kind(path) === 'page' && el('button', { type: 'button', 'aria-label': `Open ${path}`, click: () => openPage(path, bytes) }, 'Open'), ' ', el('button', { type: 'button', 'aria-label': `Put away ${path}`, click: () => putAway(path) }, 'Put away')),
              ),
            ),
          ),
        ),
    jobs.length > 1
      ? el(
          'label',
          { class: 'field' },
          'Job to run',
          el(
            'select',
            { id: 'which-job', change: (e) => { state.job = (e.target as HTMLSelectElement).value; changed(); } },
            ...jobs.map((path) => el('option', { value: path, selected: path === state.job }, path)),
          ),
        )
      : null,
  );
}

async function bring(found: ReturnType<typeof dropped> | ReturnType<typeof chosen>): Promise<void> {
  const said = byId('files-said');
  said.textContent = '';
  try {
    const files = await bytesOf(await found);
    if (files.size === 0) said.textContent = 'There were no files in what was given.';
    else if (state.running) said.textContent = 'The run goes on with the files as they were. What was given now counts from the next run on.';
    take(files);
  } catch (failure) {
    said.textContent = failure instanceof TooMuch ? failure.message : `A file cannot be read: ${(failure as Error).message}`;
  }
}

for (const id of ['choose-files', 'choose-folder']) {
  const input = byId(id) as HTMLInputElement;
  input.addEventListener('change', () => {
    if (input.files) void bring(chosen(input.files));
  });
}
if (canWatch()) {
  const said = byId('files-said');
  byId('watch-folder').hidden = false;
  byId('watch-folder').addEventListener('click', () =>
    void watchFolder(
      (files, gone) => {
        byId('watch-box').hidden = false;
        for (const path of gone) held.delete(path);
        take(files);
        said.textContent = `Read from the folder: ${files.size} new or changed${gone.length ? `, ${gone.length} gone` : ''}. It is looked at every second.`;
        if ((byId('watch-run') as HTMLInputElement).checked) void runAgain();
      },
      (why) => (said.textContent = `The folder is not looked at any more: ${why}`),
    ),
  );
}
byId('forget').addEventListener('click', () => putAway());
document.addEventListener('dragover', (e) => {
  e.preventDefault();
  document.body.classList.add('over');
});
document.addEventListener('dragleave', (e) => {
  if (!e.relatedTarget) document.body.classList.remove('over');
});
document.addEventListener('drop', (e) => {
  e.preventDefault();
  document.body.classList.remove('over');
  if (e.dataTransfer) void bring(dropped(e.dataTransfer));
});

byId('caution-list').append(
  ...(JSON.parse(byId('cautions-data').textContent ?? '[]') as string[]).map((c) => el('li', {}, c)),
);
readShop();
for (const show of [showHeld, showPropose, showJob, showRun, showShop, showMore]) {
  onChange(show);
  show();
}
ready().then(
  () => {
    byId('engine').textContent = 'The engine is ready.';
    document.documentElement.dataset.engine = 'ready';
  },
  (failure) => {
    byId('engine').textContent = `The engine cannot be started in this browser: ${failure?.message ?? failure}. It needs WebAssembly with exceptions and 128-bit instructions.`;
    document.documentElement.dataset.engine = 'failed';
  },
);
// For tests in a browser: one command on one file alone.
async function once(words: string[], name: string, bytes: Uint8Array): Promise<{ status: number; text: string }> {
  const ended = await new Run({ words, folder: '', files: new Map([[name, bytes]]), out: outFolder }).ended;
  return { status: ended.status, text: saidText(ended) };
}
// And a text file of the last run.
const result = (name: string): string => text(lastFile(name) ?? new Uint8Array());
Object.assign(window, { proveoutStart: { once, result } });

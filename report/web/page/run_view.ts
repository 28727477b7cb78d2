// A run: coarse first, then as fine as the job says; progress, stop; its page of results in place, and its files.
import { byId, el } from '../../page/src/dom';
import { fill, jobName, ofKind, saidText, start, state } from './app';
import type { Ended, Run } from './engine';
import { folderOf, from, nameOf, size, type Held } from './files';
import { stopChecking } from './job_view';
import { archive, save } from './save';

let drawn = false;
// Runs made here, newest first: to be shown beside a later one.
interface Made {
  id: number;
  label: string;
  job: string;
  result: Uint8Array;
  page: Uint8Array | undefined;
  beside: boolean; // ticked
}
let made: Made[] = [];
let count = 0;
const mostMade = 6;
// The stock after each tool, as `run --stages` keeps it: a later run goes on from the last that still holds.
let stages: Held = new Map();
const mostStages = 400e6; // bytes
let pageUrl = '';
let lastStatus = 0;

export function showRun(): void {
  const place = byId('run');
  place.hidden = state.job === '';
  if (place.hidden || drawn) return;
  drawn = true;
  const box = (id: string, words: string, on: boolean) =>
    el('label', { class: 'box' }, el('input', { id, type: 'checkbox', checked: on }), words);
  place.replaceChildren(
    el('h2', { id: 'run-title' }, 'Run'),
    el(
      'div',
      { class: 'row' },
      el('label', { class: 'field' }, 'Voxel, mm', el('input', { id: 'run-voxel', inputmode: 'decimal', placeholder: 'as the job says', autocomplete: 'off', size: 12 })),
      el('label', { class: 'field' }, 'Material instead', el('input', { id: 'run-material', placeholder: 'as the job says', autocomplete: 'off', size: 14 })),
      box('run-coarse', 'a coarse answer first, where a run takes long', true),
      box('run-against', 'beside the runs ticked below and kept results', true),
      box('run-stages', 'go on from what still holds of the run before', true),
      box('run-pictures', 'pictures', false),
      box('run-meshes', 'meshes', false),
    ),
    el(
      'div',
      { class: 'row' },
      el('button', { type: 'button', id: 'run-go', class: 'main', click: () => void runJob() }, 'Run'),
      el('button', { type: 'button', id: 'run-stop', disabled: true, click: () => state.running?.stop() }, 'Stop'),
      el('progress', { id: 'run-share', max: 1, value: 0, hidden: true, 'aria-label': 'How far the run is' }),
      el('span', { id: 'run-state', role: 'status' }),
    ),
    el('fieldset', { id: 'run-made', hidden: true }),
    el('pre', { id: 'run-said', hidden: true, tabindex: 0, 'aria-label': 'What the run said' }),
  );
}

// The runs made here, each to be ticked: the last of the same job is.
function showMade(): void {
  const place = byId('run-made');
  place.hidden = made.length === 0;
  fill(
    place,
    el('legend', {}, 'Runs of this page'),
    ...made.map((m) =>
      el('label', { class: 'box' }, el('input', { id: `made-${m.id}`, type: 'checkbox', checked: m.beside, change: (e) => { m.beside = (e.target as HTMLInputElement).checked; } }), m.label),
    ),
  );
}

const typed = (id: string): string => (byId(id) as HTMLInputElement).value.trim();
const ticked = (id: string): boolean => (byId(id) as HTMLInputElement).checked;
const seconds = (s: number): string => (s < 90 ? `${Math.round(s)} s` : `${Math.round(s / 60)} min`);

// Says at most four times a second what is being done, and how long it may still take.
function progressTeller(begun: number, what: string): (step: string, share: number) => void {
  let last = 0;
  return (step, share) => {
    const now = performance.now();
    if (now - last < 250 && share < 1) return;
    last = now;
    const took = (now - begun) / 1000;
    const left = share > 0.02 && took > 2 ? `, about ${seconds((took * (1 - share)) / share)} more` : '';
    (byId('run-share') as HTMLProgressElement).value = share;
    byId('run-state').textContent = `${what}: ${step}, ${Math.round(100 * share)} %, ${seconds(took)}${left}`;
  };
}

async function step(words: string[], what: string, more: Held, beside?: Map<string, Held>): Promise<Ended> {
  const begun = performance.now();
  byId('run-state').textContent = what;
  const run: Run = start(words, state.job, progressTeller(begun, what), { files: more, beside });
  state.running = run;
  const ended = await run.ended;
  state.running = undefined;
  byId('run').dataset.seconds = ((performance.now() - begun) / 1000).toFixed(2);
  return ended;
}

// A voxel four times that of the job, for a coarse run; none where the job's own takes no half minute: what a run takes
// at least is set by its motions, so a coarse one would only hold the full one up.
async function coarseVoxel(): Promise<string> {
  const told = await step(['run', jobName(), '--forecast', ...options()], 'Reading the job', new Map());
  const voxel = /^voxel ([0-9.e+-]+) mm/m.exec(saidText(told))?.[1];
  const short = /a second or so|about 1?\d s \(/.test(saidText(told));
  return told.status === 0 && voxel && !short ? String(Number((4 * Number(voxel)).toPrecision(2))) : '';
}

const options = (): string[] => [
  ...(typed('run-voxel') ? ['--voxel', typed('run-voxel')] : []),
  ...(typed('run-material') ? ['--material', typed('run-material')] : []),
];

async function runJob(): Promise<void> {
  if (state.running) return;
  stopChecking();
  const go = byId('run-go') as HTMLButtonElement;
  const stop = byId('run-stop') as HTMLButtonElement;
  const share = byId('run-share') as HTMLProgressElement;
  go.disabled = true;
  stop.disabled = false;
  share.hidden = false;
  share.value = 0;
  byId('run-said').hidden = true;
  delete byId('run').dataset.ended;
  try {
    await bothRuns();
    byId('run').dataset.ended = String(lastStatus); // all of it is shown
  } finally {
    state.running = undefined;
    go.disabled = false;
    stop.disabled = true;
    share.hidden = true;
  }
}

async function bothRuns(): Promise<void> {
  const job = state.job;
  let coarse: Ended | undefined;
  if (ticked('run-coarse')) {
    const voxel = await coarseVoxel();
    if (voxel) {
      coarse = await step(['run', jobName(), ...options().filter((w, i, all) => w !== '--voxel' && all[i - 1] !== '--voxel'), '--voxel', voxel, '-o', '/out'], 'Coarse', new Map());
      if (coarse.status === 130) return show(coarse);
      // Too coarse for the blank, say: then there is only the full run.
      if (coarse.status <= 1) showResults(coarse, job, `Coarse, at a voxel of ${voxel} mm; the job's own is being worked out. Small cuts and contacts may not show yet.`);
      else coarse = undefined;
      byId('run').dataset.coarse = byId('run').dataset.seconds ?? '';
    }
  }
  const words = ['run', jobName(), ...options(), '-o', '/out'];
  const more: Held = new Map();
  const there = folderOf(job) ? `${folderOf(job)}/` : '';
  const against: string[] = [];
  if (ticked('run-against')) {
    for (const m of made.filter((run) => run.beside)) {
      more.set(`${there}run-${m.id}/result.json`, m.result);
      // Its picture comes from its page.
      if (m.page) more.set(`${there}run-${m.id}/report.html`, m.page);
      against.push(`run-${m.id}/result.json`);
    }
    for (const path of ofKind('result')) against.push(from(folderOf(job), path));
  }
  for (const path of against) words.push('--against', path);
  if (ticked('run-pictures')) words.push('--pictures');
  if (ticked('run-meshes')) words.push('--meshes');
  if (ticked('run-stages')) words.push('--stages', '/stages');
  const ended = await step(words, 'Run', more, ticked('run-stages') ? new Map([['/stages', stages]]) : undefined);
  show(ended);
  const kept = ended.beside.get('/stages');
  if (kept) stages = [...kept.values()].reduce((sum, bytes) => sum + bytes.length, 0) > mostStages ? new Map() : kept;
  if (ended.status > 1) return;
  const result = ended.files.get('result.json');
  const changes = result && against.length > 0 ? await whatChanged(against, more, there, result) : '';
  showResults(ended, job, '', changes);
  if (result) keepMade(job, result, ended.files.get('report.html'));
  byId('results').focus();
}

// What `compare` says of this run beside the others, the first of them the one it is held against.
async function whatChanged(against: string[], more: Held, there: string, result: Uint8Array): Promise<string> {
  const files = new Map([...more, [`${there}this-run/result.json`, result] as const]);
  const run: Run = start(['compare', ...against, 'this-run/result.json'], state.job, undefined, { files });
  state.running = run;
  const ended = await run.ended;
  state.running = undefined;
  return saidText(ended);
}

function keepMade(job: string, result: Uint8Array, page: Uint8Array | undefined): void {
  const at = new Date().toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' });
  for (const m of made) m.beside = m.beside && m.job !== job;
  ++count;
  const label = [`${count}: ${job}`, typed('run-material'), typed('run-voxel') && `voxel ${typed('run-voxel')} mm`, at].filter(Boolean).join(', ');
  made = [{ id: count, label, job, result, page, beside: true }, ...made].slice(0, mostMade);
  showMade();
}

// For a folder whose files changed: a run that is under way is ended for the new one.
export async function runAgain(): Promise<void> {
  if (byId('run').hidden) return;
  state.running?.stop();
  while (state.running) await new Promise((soon) => setTimeout(soon, 50));
  await runJob();
}

const endings: Record<number, string> = {
  0: 'The run has ended: nothing at the level of an error was found.',
  1: 'The run has ended: there are findings at the level of an error.',
  2: 'The job cannot be run as it is.',
  3: 'The run failed.',
  130: 'Stopped. Results of the run before are kept.',
};

function show(ended: Ended): void {
  byId('run-state').textContent = endings[ended.status] ?? 'The run has ended.';
  const said = byId('run-said');
  said.textContent = saidText(ended) + (/GB are free/.test(saidText(ended)) ? '\nA page has 4 GB at most. The command line takes what the computer has; the line above says how much this job would need.' : '');
  said.hidden = ended.status <= 1; // then it stands with the results
  lastStatus = ended.status;
}

// A page that was kept, as it was written.
export function openPage(path: string, bytes: Uint8Array): void {
  const place = byId('results');
  if (pageUrl) URL.revokeObjectURL(pageUrl);
  pageUrl = URL.createObjectURL(new Blob([bytes as Uint8Array<ArrayBuffer>], { type: 'text/html' }));
  place.hidden = false;
  fill(place, el('h2', { id: 'results-title' }, `Kept page: ${path}`), el('iframe', { id: 'page', title: 'A kept page of results', src: pageUrl }));
  place.focus();
}

// The files of the last run, for tests in a browser.
let lastFiles: Held = new Map();
export const lastFile = (name: string): Uint8Array | undefined => lastFiles.get(name);

function showResults(ended: Ended, job: string, note: string, changes = ''): void {
  lastFiles = ended.files;
  const place = byId('results');
  const page = ended.files.get('report.html');
  if (pageUrl) URL.revokeObjectURL(pageUrl);
  pageUrl = page ? URL.createObjectURL(new Blob([page as Uint8Array<ArrayBuffer>], { type: 'text/html' })) : '';
  place.hidden = false;
  place.dataset.coarse = note ? 'yes' : 'no';
  const names = [...ended.files.keys()].sort();
  const stem = nameOf(job).replace(/\.toml$/, '');
  fill(
    place,
    el('h2', { id: 'results-title' }, `Results: ${job}`),
    note && el('p', { class: 'note', role: 'status' }, note),
    el('pre', { class: 'screen', tabindex: 0, 'aria-label': 'The verdict, as the command line prints it' }, ended.said.map((s) => s.text).join('\n')),
    changes && el('details', { class: 'changes', open: true }, el('summary', {}, 'What changed against the runs beside it'), el('pre', { class: 'screen', tabindex: 0, 'aria-label': 'This run beside the others' }, changes)),
    !note &&
      el(
        'details',
        { class: 'files' },
        el('summary', {}, `Keep: ${names.length} files`),
        el('p', {}, el('button', { type: 'button', id: 'save-all', click: () => save(`${stem}-out.zip`, archive(ended.files), 'application/zip') }, 'Save all in one archive'), ' ', page && el('button', { type: 'button', id: 'open-page', click: () => window.open(pageUrl) }, 'Open the page in a tab of its own'), ' The sheet for the machine is what the page prints.'),
        el(
          'ul',
          {},
          ...names.map((name) => el('li', {}, el('button', { type: 'button', click: () => save(name, ended.files.get(name)!) }, `Save ${name}`), ` ${size(ended.files.get(name)!.length)}`)),
        ),
      ),
    page && el('iframe', { id: 'page', title: 'The page of results', src: pageUrl }),
  );
}


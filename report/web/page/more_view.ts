// Any other command of the command line on the files that are here: its words, what it says, the files it writes.
import { byId, el } from '../../page/src/dom';
import { held, saidText, start, state } from './app';
import { size } from './files';
import { save } from './save';

let drawn = false;

export function showMore(): void {
  const place = byId('more');
  place.hidden = held.size === 0;
  if (place.hidden || drawn) return;
  drawn = true;
  place.replaceChildren(
    el('h2', { id: 'more-title' }, 'Any other command'),
    el('p', {}, 'Feeds for another material, money, what is reached, what a program means: as on the command line, in the folder of the job. Files for keeping go to /out. ', el('code', {}, '--help'), ' tells more.'),
    el(
      'form',
      { class: 'row', submit: (e) => { e.preventDefault(); void command(); } },
      el('label', { class: 'field wide-field' }, 'proveout', el('input', { id: 'more-words', list: 'more-known', autocomplete: 'off', spellcheck: 'false', placeholder: 'retime JOB.toml --material NAME --write-programs /out/programs' })),
      el('datalist', { id: 'more-known' }, ...['--help', 'quote JOB.toml', 'reach JOB.toml -o /out', 'list PROGRAM.nc --totals', 'differ FIRST.nc SECOND.nc', 'time PROGRAM.nc', 'retime JOB.toml --material NAME --write-programs /out/programs -o /out'].map((w) => el('option', { value: w }))),
      el('button', { type: 'submit', id: 'more-go' }, 'Do it'),
      el('button', { type: 'button', id: 'more-stop', disabled: true, click: () => state.running?.stop() }, 'Stop'),
      el('span', { id: 'more-state', role: 'status' }),
    ),
    el('pre', { id: 'more-said', hidden: true, tabindex: 0, 'aria-label': 'What the command said' }),
    el('ul', { id: 'more-files' }),
  );
}

// Words apart at blanks; quotes keep them together.
export const wordsOf = (line: string): string[] =>
  [...line.matchAll(/"([^"]*)"|'([^']*)'|(\S+)/g)].map(([, a, b, c]) => a ?? b ?? c);

async function command(): Promise<void> {
  if (state.running) return;
  const words = wordsOf((byId('more-words') as HTMLInputElement).value).filter((w, i) => i > 0 || w !== 'proveout');
  const [go, stop, said] = [byId('more-go') as HTMLButtonElement, byId('more-stop') as HTMLButtonElement, byId('more-said')];
  go.disabled = true;
  stop.disabled = false;
  byId('more-state').textContent = 'At work';
  const run = start(words, state.job || [...held.keys()][0], (what, share) => {
    byId('more-state').textContent = `${what}, ${Math.round(100 * share)} %`;
  });
  state.running = run;
  const ended = await run.ended;
  state.running = undefined;
  go.disabled = false;
  stop.disabled = true;
  byId('more-state').textContent = `Exit status ${ended.status}`;
  said.textContent = saidText(ended) || 'Nothing was said.';
  said.hidden = false;
  byId('more-files').replaceChildren(
    ...[...ended.files].map(([name, bytes]) => el('li', {}, el('button', { type: 'button', click: () => save(name.split('/').pop() ?? name, bytes) }, `Save ${name}`), ` ${size(bytes.length)}`)),
  );
}

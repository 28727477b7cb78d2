// Programs and a mesh, and no job: what `propose` asks, and the job file it writes.
import { byId, el } from '../../page/src/dom';
import { changed, held, ofKind, saidText, start, state, take } from './app';
import { folderOf, from } from './files';

let order: string[] = [];
let shownFor = '';

export function showPropose(): void {
  const place = byId('propose');
  const programs = ofKind('program');
  place.hidden = state.job !== '' || programs.length === 0;
  const sign = [...programs, ...ofKind('mesh'), ...ofKind('table')].join('\n');
  if (place.hidden || sign === shownFor) return;
  shownFor = sign;
  order = [...order.filter((p) => programs.includes(p)), ...programs.filter((p) => !order.includes(p))];
  draw(place);
}

const chooser = (id: string, label: string, paths: string[], none: string) =>
  el(
    'label',
    { class: 'field' },
    label,
    el('select', { id }, el('option', { value: '' }, none), ...paths.map((p, i) => el('option', { value: p, selected: i === 0 && id === 'propose-part' }, p))),
  );

function draw(place: HTMLElement): void {
  const sides = el(
    'ol',
    { class: 'sides' },
    ...order.map((path, i) =>
      el(
        'li',
        {},
        path,
        ' ',
        i > 0 &&
          el('button', { type: 'button', 'aria-label': `${path} comes earlier`, click: () => { order.splice(i - 1, 0, ...order.splice(i, 1)); draw(place); } }, 'earlier'),
        ' ',
        el('button', { type: 'button', 'aria-label': `Leave out ${path}`, disabled: order.length === 1, click: () => { order.splice(i, 1); draw(place); } }, 'leave out'),
      ),
    ),
  );
  place.replaceChildren(
    el('h2', { id: 'propose-title' }, 'No job file: propose one'),
    el('p', {}, 'From comments and motions of the programs, and by trying them against the part, a job file is proposed. Behind each value stands where it comes from; what is not known is asked.'),
    el('h3', {}, 'Programs, one a side, in the order they are milled'),
    sides,
    el(
      'div',
      { class: 'row' },
      chooser('propose-part', 'Part', ofKind('mesh'), 'none'),
      el('label', { class: 'field' }, 'Blank, x by y by z, mm (or 6.3x2.4x1.25in)', el('input', { id: 'propose-blank', placeholder: '160x60x32', autocomplete: 'off' })),
      el('label', { class: 'field' }, 'Material', el('input', { id: 'propose-material', placeholder: 'as a comment says', autocomplete: 'off' })),
      chooser('propose-tools', 'Tools', ofKind('table'), 'from comments'),
      chooser('propose-machine', 'Machine', ofKind('table'), 'usual figures, marked'),
    ),
    el('div', { class: 'row' }, el('button', { type: 'button', id: 'propose-go', class: 'main', click: () => void propose() }, 'Propose a job'), el('span', { id: 'propose-state', role: 'status' })),
    el('pre', { id: 'propose-said', hidden: true, tabindex: 0, 'aria-label': 'What was said of the proposal' }),
  );
}

const value = (id: string): string => (byId(id) as HTMLInputElement | HTMLSelectElement).value.trim();

async function propose(): Promise<void> {
  if (state.running) return;
  const folder = folderOf(order[0]);
  const there = folder ? `${folder}/` : '';
  let name = 'proposed.toml';
  for (let n = 2; held.has(there + name); ++n) name = `proposed-${n}.toml`;
  const words = ['propose', ...order.map((p) => from(folder, p)), '--no-questions', '-o', name];
  for (const [id, option] of [['propose-part', '--part'], ['propose-tools', '--tools'], ['propose-machine', '--machine']]) {
    if (value(id)) words.push(option, from(folder, value(id)));
  }
  if (value('propose-blank')) words.push('--blank', value('propose-blank'));
  if (value('propose-material')) words.push('--material', value('propose-material'));
  const button = byId('propose-go') as HTMLButtonElement;
  const said = byId('propose-said');
  button.disabled = true;
  const run = start(words, order[0], (what, share) => {
    byId('propose-state').textContent = `${what}, ${Math.round(100 * share)} %`;
  }, { back: [there + name] });
  byId('propose-state').textContent = 'Reading the programs';
  state.running = run;
  const ended = await run.ended;
  state.running = undefined;
  button.disabled = false;
  byId('propose-state').textContent = ended.status === 0 ? '' : 'No job could be proposed.';
  said.textContent = saidText(ended);
  said.hidden = false;
  const job = ended.files.get(there + name);
  if (!job) return changed();
  state.job = there + name;
  take(new Map([[there + name, job]]));
  byId('job-note').textContent = saidText(ended);
  byId('job').focus();
}

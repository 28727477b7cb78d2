// Machines, tools and materials kept in the browser's storage: the folder of `proveout shop`, by the same command.
import { byId, el } from '../../page/src/dom';
import { changed, fill, held, keepShop, ofKind, saidText, shop, start, state } from './app';
import { from, folderOf } from './files';
import { archive, save } from './save';

let drawn = '';
const inShop = /(?:^|\/)((?:machines|tools|materials)\/[^/]+\.toml)$/;

export function showShop(): void {
  const place = byId('shop');
  const sources = [...(state.job ? [state.job] : []), ...ofKind('table')];
  place.hidden = shop.size === 0 && sources.length === 0;
  // Files of such a folder, dropped with it.
  const given = [...held.keys()].filter((p) => inShop.test(p));
  const sign = [...shop.keys(), '', ...sources, '', ...given].join('\n');
  if (place.hidden || drawn === sign) return;
  drawn = sign;
  const names = [...shop.keys()].sort();
  fill(
    place,
    el('h2', { id: 'shop-title' }, 'Kept machines, tools and materials'),
    el('p', {}, 'They stay in this browser\'s storage on this computer, as the files that ', el('code', {}, 'proveout shop'), ' keeps: a job names them by ', el('code', {}, 'kept = "NAME"'), ', and a proposal takes tools and machine from them. Clearing the browser\'s data takes them away: save them as files too.'),
    el(
      'div',
      { class: 'row' },
      sources.length > 0 && el('label', { class: 'field' }, 'Keep what this file has', el('select', { id: 'shop-from' }, ...sources.map((p) => el('option', { value: p }, p)))),
      sources.length > 0 && el('label', { class: 'box' }, el('input', { id: 'shop-replace', type: 'checkbox' }), 'in place of those of the same names'),
      sources.length > 0 && el('button', { type: 'button', id: 'shop-keep', click: () => void keep() }, 'Keep'),
      given.length > 0 && el('button', { type: 'button', id: 'shop-take', click: () => takeIn(given) }, `Take in ${given.length} dropped ${given.length === 1 ? 'file' : 'files'} of such a folder`),
      names.length > 0 && el('button', { type: 'button', id: 'shop-save', click: () => save('shop.zip', archive(shop), 'application/zip') }, 'Save them all in one archive'),
    ),
    el('p', { id: 'shop-said', role: 'status' }),
    el(
      'ul',
      { id: 'shop-list' },
      ...names.map((name) =>
        el('li', {}, name, ' ', el('button', { type: 'button', 'aria-label': `Save ${name}`, click: () => save(name.split('/').pop() ?? name, shop.get(name)!) }, 'Save'), ' ', el('button', { type: 'button', 'aria-label': `Forget ${name}`, click: () => void command(['shop', '--forget', name.replace(/\.toml$/, '')], '') }, 'Forget')),
      ),
    ),
  );
}

function takeIn(given: string[]): void {
  const all = new Map(shop);
  for (const path of given) all.set(inShop.exec(path)![1], held.get(path)!);
  told(keepShop(all), 'Taken in; a file that cannot be used is told when it is named.');
}

function told(stays: boolean, words: string): void {
  changed();
  byId('shop-said').textContent = words + (stays ? '' : ' This browser keeps nothing for this page: it is gone when the page is closed. Save it.');
}

async function keep(): Promise<void> {
  const path = (byId('shop-from') as HTMLSelectElement).value;
  const words = ['shop', '--keep', from(folderOf(path), path)];
  if ((byId('shop-replace') as HTMLInputElement).checked) words.push('--replace');
  await command(words, path);
}

async function command(words: string[], at: string): Promise<void> {
  const ended = await start(words, at).ended;
  const left = ended.beside.get('/shop');
  told(ended.status !== 0 || !left || keepShop(left), saidText(ended));
}

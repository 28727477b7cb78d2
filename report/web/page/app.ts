// What the page holds: the files, which of them is the job, and the one run that is under way.
import { shown, type Child } from '../../page/src/dom';
import { Run, outFolder, type Command, type Ended } from './engine';
import { folderOf, hasSetups, kindOf, nameOf, text, type Held, type Kind } from './files';

// Machines, tools and materials kept once: the folder of `proveout shop` (docs/shop.md), in the browser's own storage.
const shopKey = 'proveout-shop';
export const shop: Held = new Map();
export function readShop(): void {
  try {
    const kept = JSON.parse(localStorage.getItem(shopKey) ?? '{}') as Record<string, string>;
    for (const [path, words] of Object.entries(kept)) shop.set(path, new TextEncoder().encode(words));
  } catch {
    shop.clear(); // a browser that keeps nothing for files, or what another program wrote
  }
}
// What a command left of it; false where the browser does not keep it.
export function keepShop(files: Held): boolean {
  shop.clear();
  for (const [path, bytes] of files) shop.set(path, bytes);
  try {
    localStorage.setItem(shopKey, JSON.stringify(Object.fromEntries([...shop].map(([path, bytes]) => [path, text(bytes)]))));
    return true;
  } catch {
    return false;
  }
}

const listeners: (() => void)[] = [];
export const held: Held = new Map();
export const state = { job: '', running: undefined as Run | undefined };

export const onChange = (listener: () => void): number => listeners.push(listener);
export const changed = (): void => listeners.forEach((l) => l());

export const kind = (path: string): Kind => kindOf(path, held.get(path) ?? new Uint8Array());
export const ofKind = (wanted: Kind): string[] =>
  [...held.keys()].filter((path) => kind(path) === wanted).sort((a, b) => a.localeCompare(b));

// Takes files in; what has the same path is replaced. The job stays chosen as long as it is there.
export function take(files: Held): void {
  for (const [path, bytes] of files) held.set(path, bytes);
  chooseJob();
  changed();
}
export function putAway(path?: string): void {
  if (path === undefined) held.clear();
  else held.delete(path);
  chooseJob();
  changed();
}
function chooseJob(): void {
  const jobs = ofKind('job').sort((a, b) => Number(hasSetups(held.get(b)!)) - Number(hasSetups(held.get(a)!)));
  if (!jobs.includes(state.job)) state.job = jobs[0] ?? '';
}

export const jobText = (): string => text(held.get(state.job) ?? new Uint8Array());
export function setJobText(to: string): void {
  held.set(state.job, new TextEncoder().encode(to));
}
export const jobName = (): string => nameOf(state.job);

// A command given in the folder of the job, or of the path named.
export function start(words: string[], at: string, progress?: Command['progress'], more: Partial<Command> = {}): Run {
  const files = new Map([...held, ...(more.files ?? [])]);
  const beside = new Map([['/shop', shop], ...(more.beside ?? [])]);
  return new Run({ words, folder: folderOf(at), out: outFolder, progress, back: more.back, files, beside });
}
export const saidText = (ended: Ended): string => ended.said.map((s) => s.text).join('\n');

// In place of what an element held; as dom.ts, texts stay texts and what is nothing is left out.
export const fill = (place: Element, ...children: Child[]): void =>
  place.replaceChildren(...children.filter((c) => c || c === 0).map((c) => (c instanceof Node ? c : shown(String(c)))));

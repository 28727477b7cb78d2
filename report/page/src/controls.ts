// The bench's switches: plain labelled form fields, so that keyboard and screen readers need nothing special.
import { el, terms } from './dom.ts';

export function choice<T extends string>(
  label: string,
  options: Record<T, string> | [T, string][],
  value: T,
  changed: (value: T) => void,
): HTMLElement {
  const entries = (Array.isArray(options) ? options : Object.entries(options)) as [T, string][];
  const select = el(
    'select',
    { 'aria-label': label, change: () => changed(select.value as T) },
    ...entries.map(([key, words]) => el('option', { value: key, selected: key === value }, words)),
  );
  return el('label', { class: 'field' }, el('span', {}, label), select);
}

export function button(
  words: string,
  pressed: () => void,
  attributes: Record<string, string | boolean> = {},
): HTMLButtonElement {
  return el('button', { type: 'button', ...attributes, click: pressed }, words);
}

export function tabs(
  label: string,
  names: string[],
  chosen: (index: number) => void,
): { element: HTMLElement; mark: (index: number) => void } {
  const buttons = names.map((name, i) =>
    button(name, () => chosen(i), { 'aria-pressed': 'false' }),
  );
  return {
    element: el('div', { class: 'tabs', role: 'group', 'aria-label': label }, ...buttons),
    mark: (index) => buttons.forEach((b, i) => b.setAttribute('aria-pressed', String(i === index))),
  };
}

// Keys that act anywhere but where they write or press something.
export function listenToKeys(does: Record<string, () => void>) {
  document.addEventListener('keydown', (e) => {
    const target = e.target as HTMLElement;
    const writes =
      /^(SELECT|TEXTAREA)$/.test(target.tagName) ||
      (target.tagName === 'INPUT' && (target as HTMLInputElement).type !== 'range');
    if (writes || !keysOn || e.ctrlKey || e.metaKey || e.altKey || !does[e.key]) return;
    // Space scrolls where nothing of the bench has the focus, and presses what can be pressed.
    const held = target.closest('#bench') && !/^(BUTTON|SUMMARY|A)$/.test(target.tagName);
    if (e.key === ' ' && !held) return;
    does[e.key]();
    e.preventDefault();
  });
}
let keysOn = true;

const keys: [string, string][] = [
  ['space', 'run or hold the replay'],
  [', and .', 'one motion back, one motion on'],
  ['p and n', 'previous finding, next finding'],
  ['Home and End', 'start and end of the setup, with the slider in focus'],
  ['arrows', 'turn the picture when it has the focus; + and - step nearer and back'],
  ['Enter', 'name the surface in the middle of the picture when it has the focus'],
];
export function keyHelp(): HTMLElement {
  const onOff = el('input', {
    type: 'checkbox',
    checked: true,
    change: () => {
      keysOn = onOff.checked;
    },
  });
  return el(
    'details',
    { class: 'keys' },
    el('summary', {}, 'Keys'),
    el('label', {}, onOff, ' single keys act'),
    terms(keys),
  );
}

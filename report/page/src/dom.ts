// Elements are only ever made here, with textContent: nothing a program or job file says becomes markup.
export type Child = Node | string | number | null | undefined | false;

// Characters that have no shape and act on those beside them (controls; marks that turn the
// direction of writing, UAX #9) are shown by their number: what is read is what is there.
const shapeless =
  /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]/g;
export const shown = (text: string) =>
  text.replace(
    shapeless,
    (c) => `⟨U+${c.charCodeAt(0).toString(16).toUpperCase().padStart(4, '0')}⟩`,
  );

function fill<E extends Element>(element: E, children: Child[]): E {
  for (const child of children)
    if (child || child === 0) element.append(child instanceof Node ? child : shown(String(child)));
  return element;
}

type Attributes = Record<string, string | number | boolean | ((event: Event) => void)>;
export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(key, value);
    else if (value === true) element.setAttribute(key, '');
    else if (value !== false) element.setAttribute(key, shown(String(value)));
  }
  return fill(element, children);
}

const svgNamespace = 'http://www.w3.org/2000/svg';
export function svg(
  tag: string,
  attributes: Record<string, string | number> = {},
  ...children: Child[]
): SVGElement {
  const element = document.createElementNS(svgNamespace, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  return fill(element, children);
}

export function byId(id: string): HTMLElement {
  const element = document.getElementById(id);
  if (!element) throw new Error(`no element ${id}`);
  return element;
}

// Terms and what is said of them; an empty saying leaves its term out.
export const terms = (pairs: [string, Child][], attributes: Attributes = {}) =>
  el(
    'dl',
    attributes,
    ...pairs
      .filter(([, said]) => said || said === 0)
      .map(([term, said]) => el('div', {}, el('dt', {}, term), el('dd', {}, said))),
  );

export interface Column<T> {
  head: string;
  cell: (row: T, index: number) => Child | Child[];
  number?: boolean;
}

export function table<T>(caption: string, columns: Column<T>[], rows: T[]): HTMLElement {
  const cell = (c: Column<T>, row: T, r: number, first: boolean) =>
    el(
      first ? 'th' : 'td',
      { class: c.number ? 'n' : '', scope: first && 'row' },
      ...[c.cell(row, r)].flat(),
    );
  return el(
    'div',
    { class: 'wide', tabindex: 0, role: 'region', 'aria-label': caption },
    el(
      'table',
      {},
      el('caption', {}, caption),
      el(
        'thead',
        {},
        el(
          'tr',
          {},
          ...columns.map((c) => el('th', { scope: 'col', class: c.number ? 'n' : '' }, c.head)),
        ),
      ),
      el(
        'tbody',
        {},
        ...rows.map((row, r) => el('tr', {}, ...columns.map((c, i) => cell(c, row, r, i === 0)))),
      ),
    ),
  );
}

// Plain figures: as many digits as say something. The point is a point whatever the reader's country.
export function figure(value: number, digits = 3): string {
  if (!Number.isFinite(value)) return '-';
  if (value === 0) return '0';
  const size = Math.floor(Math.log10(Math.abs(value))) + 1;
  return value.toFixed(Math.max(0, Math.min(6, digits - size)));
}

// As short as it can be to the micrometre.
export const plain = (value: number) => String(Number(value.toFixed(3)) + 0);

export function clock(seconds: number): string {
  const whole = Math.floor(Math.max(0, seconds) + 1e-9);
  const h = Math.floor(whole / 3600),
    m = Math.floor(whole / 60) % 60,
    two = (v: number) => String(v).padStart(2, '0');
  return `${h > 0 ? `${h}:${two(m)}` : m}:${two(whole % 60)}`;
}

// With the ends of what it may be, where they differ.
export function clockRange(of: {
  time_s: number;
  time_low_s: number;
  time_high_s: number;
}): string {
  const [low, high] = [clock(of.time_low_s), clock(of.time_high_s)];
  return of.time_high_s > of.time_low_s && low !== high
    ? `${clock(of.time_s)} (${low} to ${high})`
    : clock(of.time_s);
}

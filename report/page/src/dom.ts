// Elements are only ever made here, with textContent: nothing a program or job file says becomes markup.
export type Child = Node | string | number | null | undefined | false;

export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Record<string, string | number | boolean | ((event: Event) => void)> = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(key, value);
    else if (value === true) element.setAttribute(key, '');
    else if (value !== false) element.setAttribute(key, String(value));
  }
  for (const child of children) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : String(child));
  }
  return element;
}

const svgNamespace = 'http://www.w3.org/2000/svg';
export function svg(
  tag: string,
  attributes: Record<string, string | number> = {},
  ...children: Child[]
): SVGElement {
  const element = document.createElementNS(svgNamespace, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  for (const child of children)
    if (child || child === 0) element.append(child instanceof Node ? child : String(child));
  return element;
}

export function byId(id: string): HTMLElement {
  const element = document.getElementById(id);
  if (!element) throw new Error(`no element ${id}`);
  return element;
}

export interface Column<T> {
  head: string;
  cell: (row: T) => Child;
  number?: boolean;
}

export function table<T>(caption: string, columns: Column<T>[], rows: T[]): HTMLElement {
  const head = el(
    'tr',
    {},
    ...columns.map((c) => el('th', { scope: 'col', class: c.number ? 'n' : '' }, c.head)),
  );
  const body = rows.map((row) =>
    el(
      'tr',
      {},
      ...columns.map((c, i) => {
        const attributes = { class: c.number ? 'n' : '' };
        return i === 0
          ? el('th', { scope: 'row', ...attributes }, c.cell(row))
          : el('td', attributes, c.cell(row));
      }),
    ),
  );
  return el(
    'div',
    { class: 'wide', tabindex: 0, role: 'region', 'aria-label': caption },
    el('table', {}, el('caption', {}, caption), el('thead', {}, head), el('tbody', {}, ...body)),
  );
}

// Plain figures: as many digits as say something.
export function figure(value: number, digits = 3): string {
  if (!Number.isFinite(value)) return '-';
  if (value === 0) return '0';
  const size = Math.floor(Math.log10(Math.abs(value))) + 1;
  return value.toFixed(Math.max(0, Math.min(6, digits - size)));
}

// As short as it can be to the micrometre.
export const plain = (value: number) => String(Number(value.toFixed(3)) + 0);

export function clock(seconds: number): string {
  const s = Math.max(0, seconds);
  const whole = Math.floor(s + 1e-9);
  const h = Math.floor(whole / 3600),
    m = Math.floor(whole / 60) % 60,
    sec = whole % 60;
  const two = (v: number) => String(v).padStart(2, '0');
  return h > 0 ? `${h}:${two(m)}:${two(sec)}` : `${m}:${two(sec)}`;
}

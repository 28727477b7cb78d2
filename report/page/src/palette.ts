// Colours, all published and chosen to be told apart with the common colour-vision deficiencies:
// categories - Okabe and Ito, "Color Universal Design" (2008); sequences - cividis (Nunez, Anderton and
// Renslow, PLoS ONE 13 (2018) e0199239); two-sided - PuOr, ColorBrewer 2.0 (Harrower and Brewer, The
// Cartographic Journal 40 (2003) 27-37). The tables come with d3-scale-chromatic, by build.mjs.
declare const CIVIDIS: string; // 256 colours, six digits each
declare const PUOR: string;

export type Rgb = [number, number, number]; // 0..255

export const categories = [
  '#0072B2',
  '#E69F00',
  '#009E73',
  '#CC79A7',
  '#56B4E9',
  '#D55E00',
  '#F0E442',
  '#999999',
];
export const categoryOf = (index: number) =>
  categories[((index % categories.length) + categories.length) % categories.length];

export function rgb(colour: string): Rgb {
  const v = parseInt(colour.slice(1), 16);
  return [v >> 16, (v >> 8) & 255, v & 255];
}

const table = (digits: string): Rgb[] => digits.match(/.{6}/g)!.map((colour) => rgb(`#${colour}`));
export const sequence: Rgb[] = table(CIVIDIS);
// From purple (cut into the part) over near white to orange (material left on).
export const twoSided: Rgb[] = table(PUOR);

export function pickFrom(table: Rgb[], share: number): Rgb {
  return table[Math.max(0, Math.min(255, Math.round(share * 255)))];
}
export const css = (c: Rgb) => `rgb(${Math.round(c[0])},${Math.round(c[1])},${Math.round(c[2])})`;
export function gradient(table: Rgb[]): string {
  return `linear-gradient(to right, ${[0, 32, 64, 96, 128, 160, 192, 224, 255].map((i) => css(table[i])).join(', ')})`;
}

// The value below which nearly all of the values lie, so that one spike does not flatten the scale.
export function upperEnd(values: ArrayLike<number>, share = 0.99): number {
  const some: number[] = [];
  const step = Math.max(1, Math.floor(values.length / 20000));
  for (let i = 0; i < values.length; i += step) if (values[i] > 0) some.push(values[i]);
  if (some.length === 0) return 1;
  some.sort((a, b) => a - b);
  return some[Math.min(some.length - 1, Math.floor(some.length * share))] || 1;
}

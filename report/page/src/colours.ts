// What each motion's colour says, on the stock and on the path, and the legend that explains it.
import type { About } from './data.ts';
import { el, figure } from './dom.ts';
import { measures, type Measure, type Motions } from './motions.ts';
import {
  categoryOf,
  gradient,
  pickFrom,
  rgb,
  sequence,
  twoSided,
  upperEnd,
  type Rgb,
} from './palette.ts';

export type SurfaceColour =
  'tool' | 'order' | 'force_n' | 'bend_mm' | 'removal_mm3_min' | 'deviation' | 'plain';
export type PathColour = 'tool' | Measure;

export const surfaceColours: Record<SurfaceColour, string> = {
  tool: 'tool',
  order: 'order in the program',
  force_n: 'load (force)',
  bend_mm: 'bend of the tool',
  removal_mm3_min: 'removal rate',
  deviation: 'distance from the part',
  plain: 'nothing',
};
export const pathColours: Record<PathColour, string> = {
  tool: 'tool',
  engagement_deg: 'engagement',
  chip_mm: 'chip',
  force_n: 'force',
  speed: 'speed',
  time: 'time',
  power_w: 'power',
  bend_mm: 'bend',
  removal_mm3_min: 'removal rate',
  removed_mm3: 'removed',
};
export const blank: Rgb = [186, 181, 171];
export const rapidColour: Rgb = [150, 150, 150];

export function colourOfMotion(
  about: About,
  all: Motions[],
  s: number,
  by: SurfaceColour | PathColour,
): (motion: number) => Rgb {
  const motions = all[s];
  if (by === 'plain' || by === 'deviation') return () => [206, 203, 196];
  if (by === 'tool') {
    const of = new Map(about.tools.map((tool, i) => [tool.number, rgb(categoryOf(i))]));
    return (m) => of.get(motions.tool[m]) ?? [120, 120, 120];
  }
  if (by === 'order') return (m) => pickFrom(sequence, (m + 1) / motions.count);
  const values = motions.of(by),
    most = scaleEnd(all, by);
  return (m) =>
    pickFrom(
      sequence,
      by === 'time' ? values[m] / (values[motions.count - 1] || 1) : values[m] / most,
    );
}

// One scale for all setups, so that colours can be compared.
function scaleEnd(all: Motions[], by: Measure): number {
  return Math.max(...all.map((motions) => upperEnd(motions.of(by))));
}

// Colours of all motions of the job in rows of 1024; entry 0 is the blank.
export function motionTable(
  about: About,
  all: Motions[],
  by: SurfaceColour,
): { data: Uint8Array; height: number } {
  const last = Math.max(0, ...all.map((m) => m.firstId + m.count));
  const height = Math.ceil((last + 1) / 1024);
  const data = new Uint8Array(1024 * height * 4).fill(255);
  data.set(blank, 0);
  all.forEach((motions, s) => {
    const of = colourOfMotion(about, all, s, by);
    for (let m = 0; m < motions.count; m++) data.set(of(m), 4 * (motions.firstId + m));
  });
  return { data, height };
}

export function legend(
  about: About,
  all: Motions[],
  s: number,
  by: SurfaceColour | PathColour,
  title: string,
): HTMLElement {
  const box = el('div', { class: 'legend' }, el('span', { class: 'legend-title' }, title));
  if (by === 'tool') {
    const used = new Set(all[s].tool);
    about.tools.forEach((tool, i) => {
      if (!used.has(tool.number)) return;
      const swatch = el('i', { class: 'swatch' });
      swatch.style.background = categoryOf(i);
      box.append(el('span', { class: 'key' }, swatch, `T${tool.number} ${tool.name}`));
    });
    return box;
  }
  if (by === 'plain') return box;
  if (by === 'deviation' && !about.part_field) {
    box.append(el('span', { class: 'key' }, 'the job has no part: no distance, hatched'));
    return box;
  }
  const bar = el('i', { class: 'bar' });
  bar.style.background = gradient(by === 'deviation' ? twoSided : sequence);
  let low = '0',
    high: string;
  if (by === 'deviation') {
    low = `${figure(about.deviation_end)} mm into the part`;
    const step = about.part_field?.step ?? 0;
    high =
      `${figure(about.deviation_end)} mm left on; grey above ${figure(about.deviation_grey)}. ` +
      `While it is cut: read between places ${figure(step)} mm apart`;
  } else if (by === 'order') {
    low = 'first';
    high = 'last';
  } else if (by === 'time') {
    high = `${figure(all[s].of('time')[all[s].count - 1] ?? 0)} s`;
  } else {
    high = `${figure(scaleEnd(all, by))} ${measures[by].unit} and above`;
  }
  box.append(el('span', { class: 'key' }, low, bar, high));
  return box;
}

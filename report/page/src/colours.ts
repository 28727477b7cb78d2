// What each motion's colour says, on the stock and on the path, and the legend that explains it.
import type { About } from './data.ts';
import { el, figure, plain } from './dom.ts';
import { finishColours } from './finish.ts';
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
  'tool' | 'order' | 'force_n' | 'bend_mm' | 'removal_mm3_min' | 'deviation' | 'difference' | 'finish' | 'plain';
export type PathColour = 'tool' | Measure;

export const surfaceColours: Record<SurfaceColour, string> = {
  tool: 'tool',
  order: 'order in the program',
  force_n: 'load (force)',
  bend_mm: 'bend of the tool',
  removal_mm3_min: 'removal rate',
  deviation: 'distance from the part',
  difference: 'difference from the other',
  finish: 'finish: cusps and steps',
  plain: 'plain, what is cut is light',
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

// end: the value at the scale's upper end (scaleEnd).
export function colourOfMotion(
  about: About,
  motions: Motions,
  by: SurfaceColour | PathColour,
  end: number,
): (motion: number) => Rgb {
  if (by === 'plain' || by === 'deviation' || by === 'difference' || by === 'finish') return () => [226, 223, 217];
  if (by === 'tool') {
    const of = new Map(about.tools.map((tool, i) => [tool.number, rgb(categoryOf(i))]));
    return (m) => of.get(motions.tool[m]) ?? [120, 120, 120];
  }
  if (by === 'order') return (m) => pickFrom(sequence, (m + 1) / motions.count);
  const values = motions.of(by);
  return (m) => pickFrom(sequence, values[m] / end);
}

// One scale for all setups and for both results, so that colours can be compared; of time, that of the setups that
// are shown.
export function scaleEnd(all: Motions[], shown: Motions[], by: SurfaceColour | PathColour): number {
  if (!(by in measures)) return 1;
  if (by === 'time') return Math.max(1e-9, ...shown.map((m) => m.startS[m.count - 1] ?? 0));
  return Math.max(...all.map((motions) => upperEnd(motions.of(by as Measure))));
}

// Colours of all motions of the job in rows of 1024; entry 0 is the blank.
export function motionTable(
  about: About,
  all: Motions[],
  by: SurfaceColour,
  end: number,
): { data: Uint8Array; height: number } {
  const last = Math.max(0, ...all.map((m) => m.firstId + m.count));
  const height = Math.ceil((last + 1) / 1024);
  const data = new Uint8Array(1024 * height * 4).fill(255);
  data.set(blank, 0);
  all.forEach((motions) => {
    const of = colourOfMotion(about, motions, by, end);
    for (let m = 0; m < motions.count; m++) data.set(of(m), 4 * (motions.firstId + m));
  });
  return { data, height };
}

export function legend(
  about: About,
  motions: Motions,
  by: SurfaceColour | PathColour,
  end: number,
  title: string,
): HTMLElement {
  const box = el('div', { class: 'legend' }, el('span', { class: 'legend-title' }, title));
  const key = (...parts: (HTMLElement | string)[]) => box.append(el('span', { class: 'key' }, ...parts));
  if (by === 'tool') {
    const used = new Set(motions.tool);
    about.tools.forEach((tool, i) => {
      if (!used.has(tool.number)) return;
      const swatch = el('i', { class: 'swatch' });
      swatch.style.background = categoryOf(i);
      key(swatch, `T${tool.number} ${tool.name}`);
    });
    return box;
  }
  if (by === 'plain') return box;
  if (by === 'finish') {
    about.finish!.above.forEach(({ height }, i) => {
      const swatch = el('i', { class: 'swatch' });
      swatch.style.background = finishColours[i];
      key(swatch, `${plain(height)} mm and above`);
    });
    const { of, made } = about.finish_places!;
    if (of > made.count) key(`the highest ${made.count} of ${of} places`);
    if (of === 0) key('none stands up as much as that');
    return box;
  }
  if (by === 'deviation' && !about.part_field) {
    key('the job has no part: no distance, hatched');
    return box;
  }
  const sided = by === 'deviation' || by === 'difference';
  const bar = el('i', { class: 'bar' });
  bar.style.background = gradient(sided ? twoSided : sequence);
  let low = '0',
    high: string;
  if (by === 'difference') {
    low = `${plain(end)} mm less left than by the other's setup`;
    high = `${plain(end)} mm more`;
  } else if (by === 'deviation') {
    low = `${figure(about.deviation_end)} mm into the part`;
    const step = about.part_field?.step ?? 0;
    high =
      `${figure(about.deviation_end)} mm left on; grey above ${figure(about.deviation_grey)}. ` +
      `While it is cut: read between places ${figure(step)} mm apart`;
  } else if (by === 'order') {
    low = 'first';
    high = 'last';
  } else if (by === 'time') {
    high = `${figure(end)} s`;
  } else {
    high = `${figure(end)} ${measures[by].unit} and above`;
  }
  key(low, bar, high);
  return box;
}

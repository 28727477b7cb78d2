// What is going on at one moment of a setup, in words and figures.
import type { About, Triple } from './data.ts';
import { figure, terms } from './dom.ts';
import { Kind, measures, type Measure, type Motions } from './motions.ts';

export const placeWords = (p: Triple) =>
  `X${p[0].toFixed(3)} Y${p[1].toFixed(3)} Z${p[2].toFixed(3)}`;

export function toolWords(about: About, number: number): string {
  const tool = about.tools.find((t) => t.number === number);
  return `T${number}${tool ? ` ${tool.name}` : ''}`;
}

// By Motions.sense; nothing is said where nothing lies ahead of the teeth.
export const senses = ['', 'climb', 'conventional', 'climb and conventional'];

export const measured = (motions: Motions, m: number, by: Measure) =>
  `${figure(motions.of(by)[m])} ${measures[by].unit}`;

export function readings(
  about: About,
  motions: Motions,
  m: number,
  share: number,
  waiting: boolean,
): HTMLElement {
  if (m < 0) return terms([['motion', 'before the first']], { class: 'readings' });
  const rapid = motions.kind[m] === Kind.rapid;
  const loads = (['engagement_deg', 'chip_mm', 'force_n', 'power_w', 'bend_mm'] as const).map(
    (by): [string, string] => [
      measures[by].label,
      measured(motions, m, by) + (rapid && motions.of(by)[m] > 0 ? ', at rapid' : ''),
    ],
  );
  return terms(
    [
      [
        'motion',
        `${m + 1} of ${motions.count}, ${waiting ? 'waiting after it' : ['rapid', 'line', 'arc'][motions.kind[m]]}`,
      ],
      ['tool', toolWords(about, motions.tool[m])],
      ['tip at', placeWords(motions.at(m, share))],
      [
        'feed',
        rapid
          ? 'rapid'
          : `${figure(motions.feed[m], 4)} asked, ${measured(motions, m, 'speed')} on the mean`,
      ],
      ['spindle', motions.rpm[m] > 0 ? `${figure(motions.rpm[m], 5)} 1/min` : 'stopped'],
      ['depth, width', `${figure(motions.axialDepth[m])} mm, ${figure(motions.radialWidth[m])} mm`],
      ['teeth', senses[motions.sense[m]]],
      ...loads,
    ],
    { class: 'readings' },
  );
}

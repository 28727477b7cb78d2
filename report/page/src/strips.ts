// Strip charts along the tape's time, and the stability charts.
import uPlot from 'uplot';
import { button } from './controls.ts';
import type { Stability } from './data.ts';
import { clock, el, figure, plain } from './dom.ts';
import { Kind, measures, type Measure, type Motions } from './motions.ts';
import { categories, upperEnd } from './palette.ts';
import type { Side } from './side.ts';

const strips: Measure[] = ['speed', 'engagement_deg', 'removal_mm3_min', 'power_w', 'bend_mm'];
const axisWidth = 46; // px, left of every strip; the tape keeps clear of it too

export interface Ink {
  text: string;
  rule: string;
  line: string;
}

// One value a motion as steps, with nothing during waits. At most about `most` steps: several motions
// become one step with the largest of their values, so that no peak is lost. Rapids count as nothing:
// they are no cuts, and their speed would flatten the rest.
export function steps(
  motions: Motions,
  measure: Measure,
  total: number,
  most: number,
): Steps {
  const values = motions.of(measure),
    x: number[] = [],
    y: (number | null)[] = [];
  // From the setup's start to its end, as the tape's slider: waits before and after motions too.
  const width = total / most;
  if (motions.count > 0 && motions.startS[0] > 0) {
    x.push(0);
    y.push(null);
  }
  const of = (m: number) => (motions.kind[m] === Kind.rapid ? 0 : values[m]);
  for (let m = 0; m < motions.count;) {
    const start = motions.startS[m];
    let end = start + motions.timeS[m],
      value = of(m),
      next = m + 1;
    while (
      next < motions.count &&
      motions.startS[next] - end < 0.01 &&
      motions.startS[next] + motions.timeS[next] - start < width
    ) {
      value = Math.max(value, of(next));
      end = motions.startS[next] + motions.timeS[next];
      next++;
    }
    x.push(start);
    y.push(value);
    if (next >= motions.count || motions.startS[next] - end >= 0.01) {
      x.push(end);
      y.push(null);
    }
    m = next;
  }
  if (x.length > 0 && x[x.length - 1] < total) {
    x.push(total);
    y.push(null);
  }
  return [x, y];
}

type Steps = [number[], (number | null)[]];
// Of a result beside this one: its motions, and when its moments are on the slider.
export interface Overlaid {
  name: string;
  motions: Motions;
  total: number; // s
  onSlider: (time: number) => number;
}

// Steps of two results at the times of both: at each the value last begun.
export function together(a: Steps, b: Steps): [number[], ...(number | null)[][]] {
  const times = [...new Set([...a[0], ...b[0]])].sort((s, t) => s - t);
  const at = ([x, y]: Steps) => {
    let k = -1;
    return times.map((t) => {
      while (k + 1 < x.length && x[k + 1] <= t) k++;
      return k < 0 ? null : y[k];
    });
  };
  return [times, at(a), at(b)];
}

// The cut with the largest value, and the largest of the rapids.
function peaks(motions: Motions, measure: Measure): { motion: number; cut: number; rapid: number } {
  const values = motions.of(measure);
  const found = { motion: -1, cut: 0, rapid: 0 };
  for (let m = 0; m < motions.count; m++) {
    if (motions.kind[m] === Kind.rapid) found.rapid = Math.max(found.rapid, values[m]);
    else if (values[m] > found.cut) [found.motion, found.cut] = [m, values[m]];
  }
  return found;
}

const axisOf = (ink: Ink) => ({
  stroke: ink.text,
  grid: { stroke: ink.rule, width: 1 },
  ticks: { stroke: ink.rule, size: 4 },
  font: '11px system-ui',
});

export class Strips {
  readonly element = el('div', { class: 'strips' });
  private plots: { plot: uPlot; values: HTMLElement[]; measure: Measure }[] = [];
  private time = 0;
  private readonly head = el('div', { class: 'playhead', 'aria-hidden': 'true' });

  constructor(private readonly moved: (time: number) => void) {
    new ResizeObserver(() => this.resize()).observe(this.element);
  }

  show(motions: Motions, total: number, ink: Ink, other: Overlaid | null = null) {
    for (const { plot } of this.plots) plot.destroy();
    this.element.replaceChildren(this.head);
    if (other)
      this.element.append(
        el('p', { class: 'small' }, `Full line: this run. Dashed: ${other.name}.`),
      );
    this.plots = strips.map((measure, i) =>
      this.strip(motions, measure, total, ink, i === strips.length - 1, other),
    );
  }

  private strip(
    motions: Motions,
    measure: Measure,
    total: number,
    ink: Ink,
    last: boolean,
    other: Overlaid | null,
  ) {
    const { label, unit } = measures[measure];
    const both: [number[], ...(number | null)[][]] = [...steps(motions, measure, total, 3000)];
    let data = both;
    if (other) {
      const [x, y] = steps(other.motions, measure, other.total, 3000);
      data = together([both[0], both[1]], [x.map(other.onSlider), y]);
    }
    const values: HTMLElement[] = [];
    // Of one result: its value at this moment, and its greatest.
    const told = (of: Motions, go: (time: number) => void): [number, (HTMLElement | string)[]] => {
      const { motion, cut, rapid } = peaks(of, measure);
      const value = el('b', {});
      values.push(value);
      const parts = [
        value,
        ` most ${figure(cut)} `,
        motion >= 0 &&
          button(`line ${of.line[motion]}`, () => go(of.startS[motion] + of.timeS[motion] / 2)),
        rapid > 0 && ` rapids, not drawn: ${figure(rapid)}`,
      ];
      return [cut, parts.flatMap((part) => part || [])];
    };
    const [ownMost, own] = told(motions, this.moved);
    const [otherMost, others] = other
      ? told(other.motions, (time) => this.moved(other.onSlider(time)))
      : [0, []];
    const cut = Math.max(ownMost, otherMost);
    // One spike must not flatten the rest: what goes beyond the scale runs off its top, and is told.
    const ends = data.slice(1).map((of) => upperEnd(of.map((v) => v ?? 0), 0.98));
    const scale = Math.min(cut, 1.6 * Math.max(...ends));
    const hovered = el('span', { class: 'hovered' });
    const title = el(
      'p',
      { class: 'strip-title' },
      `${label}, ${unit} `,
      ...own,
      cut > scale * 1.001 && ` scale to ${figure(scale)}`,
      ...(other ? [' ┊ ', ...others] : []),
      hovered,
    );
    const box = el('div', {
      class: 'strip',
      role: 'img',
      'aria-label': `${label} along time, most ${figure(cut)} ${unit}`,
    });
    this.element.append(title, box);
    const axis = axisOf(ink);
    const plot = new uPlot(
      {
        width: Math.max(100, this.element.clientWidth),
        height: last ? 76 : 54,
        legend: { show: false },
        padding: [4, 0, 0, 0],
        cursor: {
          y: false,
          points: { show: false },
          drag: { x: true, y: false, dist: 6 },
          sync: { key: 'tape' },
        },
        scales: {
          x: { time: false },
          y: { range: () => [0, scale > 0 ? scale * 1.05 : 1] },
        },
        axes: [
          { ...axis, show: last, size: 22, values: (_, at) => at.map(clock) },
          {
            ...axis,
            size: axisWidth,
            splits: () => [0, scale / 2, scale],
            values: (_, at) => at.map((v) => figure(v, 2)),
          },
        ],
        series: [
          {},
          {
            stroke: ink.line,
            fill: `${ink.line}33`,
            width: 1,
            points: { show: false },
            paths: uPlot.paths.stepped!({ align: 1 }),
          },
          ...(other
            ? [
                {
                  stroke: categories[5],
                  dash: [5, 3],
                  width: 1.4,
                  points: { show: false },
                  paths: uPlot.paths.stepped!({ align: 1 }),
                },
              ]
            : []),
        ],
        hooks: {
          setScale: [() => this.placeHead()],
          setCursor: [
            ({ cursor }) => {
              const at = cursor.idx ?? -1;
              const here = (cursor.left ?? -1) < 0 || at < 0 ? [] : data.slice(1).map((of) => of[at]);
              hovered.textContent = here.some((v) => v !== null)
                ? ` here, ${clock(data[0][at])}: ${here.map((v) => (v === null ? '-' : figure(v))).join(' and ')}`
                : '';
            },
          ],
        },
      },
      data as uPlot.AlignedData,
      box,
    );
    plot.over.addEventListener('click', () => {
      const left = plot.cursor.left ?? -1;
      if (left >= 0) this.moved(plot.posToVal(left, 'x'));
    });
    return { plot, values, measure };
  }

  set(time: number, main: Side, other: Side | null) {
    this.time = time;
    this.placeHead();
    for (const { values, measure } of this.plots)
      [main, other].forEach((side, i) => {
        if (!side || !values[i]) return;
        const { motion, waiting, moving } = side;
        values[i].textContent = motion >= 0 && !waiting ? figure(moving.of(measure)[motion]) : '-';
      });
  }

  private placeHead() {
    const plot = this.plots[0]?.plot;
    if (!plot) return;
    const left = plot.valToPos(this.time, 'x');
    this.head.style.left = `${left + plot.over.offsetLeft}px`;
    this.head.hidden = left < 0 || left > plot.over.clientWidth;
  }

  private resize() {
    const width = this.element.clientWidth;
    if (width > 50) for (const { plot } of this.plots) plot.setSize({ width, height: plot.height });
    this.placeHead();
  }
}

export function stabilityChart(
  chart: Stability,
  ink: Ink,
  toCut: HTMLElement, // goes to the cut that the chart is of
): HTMLElement {
  const box = el('div', {
    role: 'img',
    'aria-label': `${chart.title}: ${figure(chart.depth)} mm deep, limit ${figure(chart.limit.low)} to ${figure(chart.limit.high)} mm`,
  });
  const figureBox = el(
    'figure',
    { class: 'chart' },
    el('figcaption', {}, chart.title),
    box,
    el('p', { class: 'small' }, chart.note, ' ', toCut),
  );
  const { rpm, depth, limit, slowest, fastest, in_step } = chart;
  const xs = [...new Set([slowest, rpm, fastest])].sort((a, b) => a - b);
  const level = (mm: number) => xs.map(() => mm);
  const axis = { ...axisOf(ink), labelSize: 20, labelFont: '11px system-ui' };
  const values = (_: uPlot, at: number[]) => at.map(plain);
  const line = (width: number) => ({ stroke: ink.line, width, points: { show: false } });
  const most = 1.15 * Math.max(depth, limit.likely, Math.min(limit.high, 3 * depth));
  const plot = new uPlot(
    {
      width: 340,
      height: 220,
      legend: { show: false },
      cursor: { show: false },
      scales: { x: { time: false, range: [slowest, fastest] }, y: { range: [0, most] } },
      axes: [
        { ...axis, values, label: 'spindle speed, 1/min' },
        { ...axis, values, label: 'axial depth, mm' },
      ],
      bands: [{ series: [3, 1], fill: `${ink.line}33` }],
      series: [
        {},
        line(0.5),
        line(2),
        line(0.5),
        {
          stroke: categories[5],
          paths: () => null,
          points: { show: true, size: 9, fill: categories[5] },
        },
      ],
      hooks: {
        draw: [
          (u) => {
            const { top, height } = u.bbox;
            u.ctx.save();
            u.ctx.setLineDash([6, 4]);
            u.ctx.strokeStyle = ink.text;
            for (const speed of in_step) {
              const x = u.valToPos(speed, 'x', true);
              u.ctx.beginPath();
              u.ctx.moveTo(x, top);
              u.ctx.lineTo(x, top + height);
              u.ctx.stroke();
            }
            u.ctx.restore();
          },
        ],
      },
    },
    [
      xs,
      level(limit.low),
      level(limit.likely),
      level(limit.high),
      xs.map((x) => (x === rpm ? depth : null)),
    ] as uPlot.AlignedData,
    box,
  );
  new ResizeObserver(() => {
    if (box.clientWidth > 80) plot.setSize({ width: Math.min(520, box.clientWidth), height: 220 });
  }).observe(box);
  return figureBox;
}

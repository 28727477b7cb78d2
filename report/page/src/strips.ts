// Strip charts along the tape's time, and the stability charts.
import uPlot from 'uplot';
import { el, figure } from './dom.ts';
import { Kind, type Measure, type Motions } from './motions.ts';
import { categories, upperEnd } from './palette.ts';

const strips: { measure: Measure; label: string; unit: string }[] = [
  { measure: 'speed', label: 'feed', unit: 'mm/min' },
  { measure: 'engagement_deg', label: 'engagement', unit: '°' },
  { measure: 'removal_mm3_min', label: 'removal rate', unit: 'mm³/min' },
  { measure: 'power_w', label: 'power', unit: 'W' },
  { measure: 'bend_mm', label: 'bend', unit: 'mm' },
];

export interface Ink {
  text: string;
  rule: string;
  line: string;
}

// One value a motion as steps, with nothing during waits. At most about `most` steps: several motions
// become one step with the largest of their values, so that no peak is lost.
// For the feed, rapids count as nothing: their speed would flatten the rest.
export function steps(
  motions: Motions,
  measure: Measure,
  total: number,
  most: number,
): [number[], (number | null)[]] {
  const values = motions.of(measure),
    x: number[] = [],
    y: (number | null)[] = [];
  const width = total / most;
  for (let m = 0; m < motions.count; ) {
    const start = motions.startS[m];
    const of = (k: number) =>
      measure === 'speed' && motions.kind[k] === Kind.rapid ? 0 : values[k];
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
  return [x, y];
}

export class Strips {
  readonly element = el('div', { class: 'strips' });
  private plots: {
    plot: uPlot;
    head: HTMLElement;
    value: HTMLElement;
    measure: Measure;
    unit: string;
  }[] = [];
  private motions: Motions | null = null;
  private total = 1;
  private readonly head = el('div', { class: 'playhead', 'aria-hidden': 'true' });

  constructor(private readonly moved: (time: number) => void) {
    new ResizeObserver(() => this.resize()).observe(this.element);
  }

  show(motions: Motions, total: number, ink: Ink) {
    for (const { plot } of this.plots) plot.destroy();
    this.motions = motions;
    this.total = total;
    this.element.replaceChildren(this.head);
    this.plots = strips.map((strip) => {
      const data = steps(motions, strip.measure, total, 3000);
      const value = el('b', {});
      // One spike must not flatten the rest: what goes beyond the scale runs off its top, and is told.
      const most = Math.max(0, ...data[1].map((v) => v ?? 0)),
        scale = Math.min(
          most,
          1.6 *
            upperEnd(
              data[1].map((v) => v ?? 0),
              0.98,
            ),
        );
      const title = el(
        'p',
        { class: 'strip-title' },
        `${strip.label}, ${strip.unit} `,
        value,
        ` scale to ${figure(scale)}${most > scale * 1.001 ? `, most ${figure(most)}` : ''}`,
      );
      const box = el('div', {
        class: 'strip',
        role: 'img',
        'aria-label': `${strip.label} along time, most ${figure(most)} ${strip.unit}`,
      });
      this.element.append(title, box);
      const plot = new uPlot(
        {
          width: Math.max(100, this.element.clientWidth),
          height: 54,
          legend: { show: false },
          padding: [4, 0, 0, 0],
          cursor: {
            y: false,
            points: { show: false },
            drag: { x: false, y: false },
            sync: { key: 'tape' },
          },
          scales: {
            x: { time: false, range: [0, total] },
            y: { range: () => [0, scale > 0 ? scale * 1.05 : 1] },
          },
          axes: [{ show: false }, { show: false }],
          series: [
            {},
            {
              stroke: ink.line,
              fill: `${ink.line}33`,
              width: 1,
              points: { show: false },
              paths: uPlot.paths.stepped!({ align: 1 }),
            },
          ],
        },
        data as uPlot.AlignedData,
        box,
      );
      plot.over.addEventListener('click', () => {
        const left = plot.cursor.left ?? -1;
        if (left >= 0) this.moved(plot.posToVal(left, 'x'));
      });
      return { plot, head: title, value, measure: strip.measure, unit: strip.unit };
    });
  }

  set(time: number, motion: number, waiting: boolean) {
    this.head.style.left = `${(100 * time) / this.total}%`;
    for (const { value, measure } of this.plots)
      value.textContent =
        this.motions && motion >= 0 && !waiting ? figure(this.motions.of(measure)[motion]) : '-';
  }

  private resize() {
    const width = this.element.clientWidth;
    if (width > 50) for (const { plot } of this.plots) plot.setSize({ width, height: 54 });
  }
}

export function stabilityChart(
  chart: {
    title: string;
    rpm: number[];
    limit_depth: number[];
    used: [number, number][];
    note: string;
  },
  ink: Ink,
): HTMLElement {
  const box = el('div', {
    role: 'img',
    'aria-label': `${chart.title}: greatest steady depth over spindle speed`,
  });
  const figureBox = el(
    'figure',
    { class: 'chart' },
    el('figcaption', {}, chart.title),
    box,
    el('p', { class: 'small' }, chart.note),
  );
  const xs = [...new Set([...chart.rpm, ...chart.used.map((u) => u[0])])].sort((a, b) => a - b);
  const limit = new Map(chart.rpm.map((r, i) => [r, chart.limit_depth[i]]));
  const used = new Map<number, number>();
  for (const [rpm, depth] of chart.used) used.set(rpm, Math.max(depth, used.get(rpm) ?? 0));
  const axis = {
    stroke: ink.text,
    grid: { stroke: ink.rule, width: 1 },
    ticks: { stroke: ink.rule },
    font: '11px system-ui',
  };
  const plot = new uPlot(
    {
      width: 340,
      height: 220,
      legend: { show: false },
      cursor: { show: false },
      scales: { x: { time: false }, y: { range: (_u, _l, high) => [0, high * 1.1 || 1] } },
      axes: [
        { ...axis, label: 'spindle speed, 1/min', labelSize: 20, labelFont: '11px system-ui' },
        { ...axis, label: 'axial depth, mm', labelSize: 20, labelFont: '11px system-ui' },
      ],
      series: [
        {},
        { stroke: ink.line, width: 2, spanGaps: true, points: { show: false } },
        {
          stroke: categories[5],
          paths: () => null,
          points: { show: true, size: 9, fill: categories[5] },
        },
      ],
    },
    [
      xs,
      xs.map((x) => limit.get(x) ?? null),
      xs.map((x) => used.get(x) ?? null),
    ] as uPlot.AlignedData,
    box,
  );
  new ResizeObserver(() => {
    if (box.clientWidth > 80) plot.setSize({ width: Math.min(520, box.clientWidth), height: 220 });
  }).observe(box);
  return figureBox;
}

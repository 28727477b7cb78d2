// The seam of the two sides: where each wall is continued, with the step between them, as a plan and
// as a curve along the seam.
import type { About } from './data.ts';
import { el, svg } from './dom.ts';

type Seam = NonNullable<About['flip']>;
interface Place {
  x: number;
  y: number;
  step: number;
  along: number; // mm of seam before it; grows by nothing where the seam breaks off
  starts: boolean;
}

const gap = 6; // mm: further apart than this, places belong to two pieces of seam

export function places(flip: Seam): Place[] {
  const out: Place[] = [];
  for (let i = 0; i + 2 < flip.seam.length; i += 3) {
    const [x, y, step] = flip.seam.slice(i, i + 3);
    const last = out[out.length - 1];
    const away = last ? Math.hypot(x - last.x, y - last.y) : Infinity;
    const starts = away > gap;
    out.push({ x, y, step, along: (last?.along ?? 0) + (starts ? 0 : away), starts });
  }
  return out;
}

const path = (points: { x: number; y: number; starts: boolean }[]) =>
  points.map((p) => `${p.starts ? 'M' : 'L'}${p.x.toFixed(3)} ${p.y.toFixed(3)}`).join('');

// Steps are drawn larger than they are; by how much is said beside the picture.
function exaggeration(all: Place[]): number {
  const worst = Math.max(...all.map((p) => Math.abs(p.step)), 0.001);
  return 10 ** Math.max(0, Math.floor(Math.log10(4 / worst)));
}

function plan(flip: Seam, all: Place[], times: number): SVGElement {
  const margin = 8,
    x0 = Math.min(...all.map((p) => p.x)) - margin,
    x1 = Math.max(...all.map((p) => p.x)) + margin,
    y0 = Math.min(...all.map((p) => -p.y)) - margin,
    y1 = Math.max(...all.map((p) => -p.y)) + margin;
  const earlier = all.map((p) => ({ x: p.x, y: -p.y, starts: p.starts }));
  const later = all.map((p, i) => ({
    x: p.x + flip.outward[2 * i] * p.step * times,
    y: -(p.y + flip.outward[2 * i + 1] * p.step * times),
    starts: p.starts,
  }));
  return svg(
    'svg',
    {
      viewBox: `${x0} ${y0} ${x1 - x0} ${y1 - y0}`,
      class: 'seam',
      role: 'img',
      'aria-label': `Plan of the seam, steps drawn ${times} times as large`,
    },
    svg('path', { d: path(earlier), class: 'earlier' }),
    svg('path', { d: path(later), class: 'later' }),
  );
}

function curve(all: Place[]): SVGElement {
  const length = Math.max(all[all.length - 1].along, 1),
    worst = Math.max(...all.map((p) => Math.abs(p.step)), 0.01);
  const points = all.map((p) => ({
    x: (p.along / length) * 100,
    y: (-p.step / worst) * 10,
    starts: p.starts,
  }));
  return svg(
    'svg',
    {
      viewBox: '-2 -12 104 24',
      class: 'seam steps',
      preserveAspectRatio: 'none',
      role: 'img',
      'aria-label': `Step along ${length.toFixed(0)} mm of seam, at most ${worst.toFixed(2)} mm`,
    },
    svg('path', { d: 'M0 0L100 0', class: 'earlier' }),
    svg('path', { d: path(points), class: 'later' }),
  );
}

export function seamPictures(flip: Seam): HTMLElement[] {
  const all = places(flip);
  if (all.length < 3) return [];
  const times = exaggeration(all);
  const worst = Math.max(...all.map((p) => Math.abs(p.step)));
  return [
    el(
      'div',
      { class: 'seam-box' },
      plan(flip, all, times),
      curve(all),
      el(
        'p',
        { class: 'small' },
        `Above: the seam seen by the later setup; full line the earlier side's wall, dashed the later side's, steps drawn ${times} times as large. ` +
          `Below: the step along the seam, ${(-worst).toFixed(2)} to ${worst.toFixed(2)} mm; up: the later side stands proud.`,
      ),
    ),
  ];
}

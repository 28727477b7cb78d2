// One setup's motions as columns, and what can be asked of them. Frame: the setup's work coordinates, mm.
import type { Bulk, MotionRefs, Setup, Triple } from './data.ts';

export const enum Kind {
  rapid = 0,
  line = 1,
  arc = 2,
}
export type Measure =
  | 'engagement_deg'
  | 'chip_mm'
  | 'force_n'
  | 'power_w'
  | 'bend_mm'
  | 'removal_mm3_min'
  | 'speed'
  | 'time'
  | 'removed_mm3';

export const measures: Record<Measure, { label: string; unit: string }> = {
  engagement_deg: { label: 'engagement', unit: '°' },
  chip_mm: { label: 'chip', unit: 'mm' },
  force_n: { label: 'force', unit: 'N' },
  power_w: { label: 'power', unit: 'W' },
  bend_mm: { label: 'bend', unit: 'mm' },
  removal_mm3_min: { label: 'removal rate', unit: 'mm³/min' },
  speed: { label: 'mean speed', unit: 'mm/min' },
  time: { label: 'time', unit: 's' },
  removed_mm3: { label: 'removed', unit: 'mm³' },
};

export class Motions {
  readonly count: number;
  readonly firstId: number;
  readonly kind: Uint8Array;
  readonly plane: Uint8Array;
  readonly start: Float64Array;
  readonly end: Float64Array;
  readonly centre: Float64Array;
  readonly sweep: Float64Array;
  readonly file: Uint32Array;
  readonly line: Uint32Array;
  readonly tool: Uint32Array;
  readonly startS: Float64Array;
  readonly timeS: Float64Array;
  readonly feed: Float64Array;
  readonly rpm: Float64Array;
  readonly axialDepth: Float64Array;
  readonly radialWidth: Float64Array;
  // mm of path before each motion, and of all of it at the end; rapids count.
  private readonly travelled: Float64Array;
  readonly sense: Uint8Array; // which way teeth met the material: 1 climb, 2 conventional, 3 both
  private byLine: Map<number, number[]> | null = null;
  private readonly measured: Partial<Record<Measure, Float64Array>> = {};

  constructor(setup: Setup, bulk: Bulk) {
    const refs: MotionRefs = setup.motions;
    this.count = refs.count;
    this.firstId = setup.first_id;
    this.kind = bulk.bytesOf(refs.kind);
    this.plane = bulk.bytesOf(refs.plane);
    this.start = bulk.doubles(refs.start);
    this.end = bulk.doubles(refs.end);
    this.centre = bulk.doubles(refs.centre);
    this.sweep = bulk.doubles(refs.sweep);
    this.file = bulk.whole(refs.file);
    this.line = bulk.whole(refs.line);
    this.tool = bulk.whole(refs.tool);
    this.startS = bulk.doubles(refs.start_s);
    this.timeS = bulk.doubles(refs.time_s);
    this.feed = bulk.doubles(refs.feed);
    this.rpm = bulk.doubles(refs.rpm);
    this.axialDepth = bulk.doubles(refs.axial_depth);
    this.radialWidth = bulk.doubles(refs.radial_width);
    this.sense = bulk.bytesOf(refs.sense);
    for (const key of [
      'engagement_deg',
      'chip_mm',
      'force_n',
      'power_w',
      'bend_mm',
      'removal_mm3_min',
      'removed_mm3',
    ] as const)
      this.measured[key] = bulk.doubles(refs[key]);
    this.measured.speed = bulk.doubles(refs.speed);
    this.measured.time = this.startS;
    this.travelled = new Float64Array(this.count + 1);
    for (let m = 0; m < this.count; m++) this.travelled[m + 1] = this.travelled[m] + this.length(m);
  }

  of(measure: Measure): Float64Array {
    return this.measured[measure]!;
  }

  length(m: number): number {
    const i = 3 * m,
      s = this.start,
      e = this.end;
    if (this.kind[m] !== Kind.arc)
      return Math.hypot(e[i] - s[i], e[i + 1] - s[i + 1], e[i + 2] - s[i + 2]);
    const [a, b, n] = axes(this.plane[m]);
    const radius = Math.hypot(s[i + a] - this.centre[i + a], s[i + b] - this.centre[i + b]);
    return Math.hypot(radius * this.sweep[m], e[i + n] - s[i + n]);
  }

  // Point on the path at a fraction of its length.
  at(m: number, fraction: number, out: Triple = [0, 0, 0]): Triple {
    const i = 3 * m,
      s = this.start,
      e = this.end;
    if (fraction >= 1 || this.kind[m] !== Kind.arc) {
      const f = Math.min(1, fraction);
      for (let k = 0; k < 3; k++) out[k] = s[i + k] + (e[i + k] - s[i + k]) * f;
      return out;
    }
    const [a, b, n] = axes(this.plane[m]);
    const angle = this.sweep[m] * fraction,
      c = Math.cos(angle),
      d = Math.sin(angle);
    const u = s[i + a] - this.centre[i + a],
      v = s[i + b] - this.centre[i + b];
    // Radius may drift from start to end within the format's rounding; it is spread over the arc.
    const r0 = Math.hypot(u, v),
      r1 = Math.hypot(e[i + a] - this.centre[i + a], e[i + b] - this.centre[i + b]);
    const grow = r0 > 0 ? 1 + (r1 / r0 - 1) * fraction : 1;
    out[a] = this.centre[i + a] + (u * c - v * d) * grow;
    out[b] = this.centre[i + b] + (u * d + v * c) * grow;
    out[n] = s[i + n] + (e[i + n] - s[i + n]) * fraction;
    return out;
  }

  // The motions of a line of a file, in order.
  ofLine(file: number, line: number): number[] {
    if (!this.byLine) {
      this.byLine = new Map();
      for (let m = 0; m < this.count; m++) {
        const key = this.file[m] * 2 ** 32 + this.line[m];
        const list = this.byLine.get(key);
        if (list) list.push(m);
        else this.byLine.set(key, [m]);
      }
    }
    return this.byLine.get(file * 2 ** 32 + line) ?? [];
  }

  // Where a motion comes nearest to a place: sought in steps, then between the best one's neighbours.
  nearest(m: number, place: Triple): { share: number; away: number } {
    const steps = this.pieces(m, 0.05);
    let share = 0,
      away = Infinity,
      reach = 1;
    const out: Triple = [0, 0, 0];
    for (let round = 0, from = 0, n = Math.max(8, steps); round < 5; round++, n = 8) {
      for (let k = 0; k <= n; k++) {
        const f = Math.min(1, Math.max(0, from + (reach * k) / n));
        this.at(m, f, out);
        const d = Math.hypot(out[0] - place[0], out[1] - place[1], out[2] - place[2]);
        if (d < away) [share, away] = [f, d];
      }
      reach = (2 * reach) / n;
      from = share - reach / 2;
    }
    return { share, away };
  }

  // Straight pieces that stay within chord (mm) of the motion.
  pieces(m: number, chord: number): number {
    if (this.kind[m] !== Kind.arc) return 1;
    const i = 3 * m,
      [a, b] = axes(this.plane[m]);
    const radius = Math.hypot(
      this.start[i + a] - this.centre[i + a],
      this.start[i + b] - this.centre[i + b],
    );
    const step = radius > chord ? 2 * Math.acos(1 - chord / radius) : Math.PI / 2;
    return Math.max(1, Math.ceil(Math.abs(this.sweep[m]) / step));
  }

  // The motion under way at a time, or the last one that has ended (waits belong to the one before). -1: none yet.
  indexAt(time: number): number {
    let low = 0,
      high = this.count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.startS[middle] <= time) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }
  // When a share of a motion is done; never so late that, times being rounded, the next one has begun.
  momentOf(m: number, share: number): number {
    const next = m + 1 < this.count ? this.startS[m + 1] - 1e-6 : Infinity;
    return Math.max(this.startS[m], Math.min(this.startS[m] + this.timeS[m] * share, next));
  }
  fractionAt(m: number, time: number): number {
    const t = this.timeS[m];
    return t > 0 ? Math.max(0, Math.min(1, (time - this.startS[m]) / t)) : 1;
  }

  // Which share of the path, 0 to 1, is done at a time.
  shareAt(time: number): number {
    const m = this.indexAt(time),
      all = this.travelled[this.count];
    if (m < 0 || !(all > 0)) return 0;
    return (this.travelled[m] + this.length(m) * this.fractionAt(m, time)) / all;
  }
  // When a share of it is done: before a wait at that place, not behind it.
  timeAt(share: number): number {
    const { travelled, count } = this,
      wanted = share * travelled[count];
    let low = 0,
      high = count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (travelled[middle + 1] < wanted) low = middle + 1;
      else high = middle;
    }
    if (low >= count) return count ? this.startS[count - 1] + this.timeS[count - 1] : 0;
    const long = travelled[low + 1] - travelled[low];
    return this.startS[low] + (long > 0 ? (this.timeS[low] * (wanted - travelled[low])) / long : 0);
  }
}

// The two axes of an arc's plane, in the order that makes positive sweep right-handed about the third.
function axes(plane: number): [number, number, number] {
  return plane === 0 ? [0, 1, 2] : plane === 1 ? [2, 0, 1] : [1, 2, 0];
}

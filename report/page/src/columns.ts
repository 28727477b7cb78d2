// The stock while a setup is being cut, as columns along the spindle's axis. The picture at the start and
// at the end of a setup is the level set's surface; between them the page works out each column from the
// path and the outline of the cutting part, so that every instant of the slider has a picture of its own.
// A column keeps how deep the tool has been (floor), where its material now ends (top) and the motion
// that made that top. Undercuts do not show here; they are in the end surface.
// Frame: the setup's work coordinates, mm.
import type { Surface, Tool, Triple } from './data.ts';
import { Kind, type Motions } from './motions.ts';

export const nothing = -1e9; // top of a column without material
export const untouched = 1e9; // floor of a column no tool has been in

export interface Grid {
  x: number;
  y: number;
  cell: number;
  nx: number;
  ny: number;
  low: number;
  high: number;
}

export function gridOver(low: Triple, high: Triple, most: number, least: number): Grid {
  const width = high[0] - low[0],
    depth = high[1] - low[1];
  const cell = Math.max(least, Math.sqrt((width * depth) / most));
  return {
    x: low[0],
    y: low[1],
    cell,
    nx: Math.max(2, Math.round(width / cell)),
    ny: Math.max(2, Math.round(depth / cell)),
    low: low[2],
    high: high[2],
  };
}

// Heights of the cutting part above the tip, by squared distance from the axis.
class Outline {
  static readonly steps = 1024;
  readonly radius: number;
  readonly heights = new Float64Array(Outline.steps + 2);
  constructor(tool: Tool) {
    const points =
      tool.cutting_outline.length > 1
        ? tool.cutting_outline
        : [
            [0, 0],
            [tool.diameter / 2, 0],
          ];
    this.radius = Math.max(...points.map((p) => p[0]));
    for (let k = 0; k <= Outline.steps; k++) {
      const r = this.radius * Math.sqrt(k / Outline.steps);
      let height = Infinity;
      for (let i = 1; i < points.length && height === Infinity; i++) {
        const [r0, h0] = points[i - 1],
          [r1, h1] = points[i];
        if (r0 >= r - 1e-9) height = h0;
        else if (r1 >= r - 1e-9) height = h0 + ((h1 - h0) * (r - r0)) / (r1 - r0);
      }
      this.heights[k] = height === Infinity ? points[points.length - 1][1] : height;
    }
    this.heights[Outline.steps + 1] = this.heights[Outline.steps];
  }
  at(squared: number): number {
    const k = (squared / (this.radius * this.radius)) * Outline.steps;
    const i = Math.min(Outline.steps, Math.floor(k)),
      f = k - i;
    return this.heights[i] + (this.heights[i + 1] - this.heights[i]) * f;
  }
}

export class State {
  motion = 0; // motions before this one are done
  share = 0; // and this much of it
  constructor(
    readonly floor: Float32Array,
    readonly top: Float32Array,
    readonly id: Uint32Array,
  ) {}
  copy(): State {
    const state = new State(this.floor.slice(), this.top.slice(), this.id.slice());
    state.motion = this.motion;
    state.share = this.share;
    return state;
  }
  take(other: State) {
    this.floor.set(other.floor);
    this.top.set(other.top);
    this.id.set(other.id);
    this.motion = other.motion;
    this.share = other.share;
  }
}

export class Columns {
  private first!: Uint32Array; // of each column's crossings
  private crossings!: Float32Array; // heights, rising, entering and leaving in turn
  private readonly outlines = new Map<number, Outline>();
  private start!: State;
  private readonly kept: State[] = [];
  private scout!: State;
  private readonly every: number;
  readonly now: State;
  private begun = false;
  finalIds: Uint32Array | null = null; // once the scout has been through all motions

  constructor(
    readonly grid: Grid,
    private readonly before: Surface | null,
    private readonly motions: Motions,
    tools: Tool[],
  ) {
    for (const tool of tools) this.outlines.set(tool.number, new Outline(tool));
    const n = grid.nx * grid.ny;
    this.now = new State(new Float32Array(n), new Float32Array(n), new Uint32Array(n));
    this.every = Math.max(64, Math.ceil(motions.count / 24));
  }

  // What stands before the first motion is worked out when a moment is first asked for: the end of a setup needs none.
  private begin() {
    if (this.begun) return;
    this.begun = true;
    const { grid, before } = this,
      n = grid.nx * grid.ny;
    if (before) {
      [this.first, this.crossings] = crossingsOf(grid, before);
    } else {
      this.first = Uint32Array.from({ length: n + 1 }, (_, c) => 2 * c);
      this.crossings = Float32Array.from({ length: 2 * n }, (_, k) => (k % 2 ? grid.high : grid.low));
    }
    const top = new Float32Array(n);
    for (let c = 0; c < n; c++)
      top[c] = this.first[c + 1] > this.first[c] ? this.crossings[this.first[c + 1] - 1] : nothing;
    this.start = new State(new Float32Array(n).fill(untouched), top, new Uint32Array(n));
    this.scout = this.start.copy();
    this.now.take(this.start);
  }

  // Is there material in this column at this height, in the state `now`?
  solid(c: number, height: number): boolean {
    this.begin();
    if (height > this.now.floor[c]) return false;
    for (let k = this.first[c]; k < this.first[c + 1]; k += 2)
      if (height >= this.crossings[k] && height <= this.crossings[k + 1]) return true;
    return false;
  }

  // Goes on looking ahead for some milliseconds; true when there is nothing left to look at.
  lookAhead(milliseconds: number): boolean {
    this.begin();
    const end = performance.now() + milliseconds;
    while (this.scout.motion < this.motions.count) {
      this.advance(this.scout, this.scout.motion + 1, 0);
      if (this.scout.motion % this.every === 0) this.kept.push(this.scout.copy());
      if (performance.now() > end) return false;
    }
    this.finalIds ??= this.scout.id;
    return true;
  }

  // Brings `now` towards a moment; false when time ran out on the way.
  goTo(motion: number, share: number, milliseconds: number): boolean {
    this.begin();
    const end = performance.now() + milliseconds;
    const past = this.now.motion > motion || (this.now.motion === motion && this.now.share > share);
    let best: State | null = past ? this.start : null;
    for (const state of this.kept)
      if (state.motion <= motion && state.motion > (best ?? this.now).motion) best = state;
    if (best) this.now.take(best);
    while (this.now.motion < motion) {
      this.advance(this.now, this.now.motion + 1, 0);
      if (performance.now() > end) return false;
    }
    if (share > this.now.share) this.advance(this.now, motion, share);
    return true;
  }

  // Cuts from where state stands to motion and share.
  private advance(state: State, motion: number, share: number) {
    for (let m = state.motion; m < motion; m++) this.cut(state, m, 1);
    if (share > 0 && motion < this.motions.count) this.cut(state, motion, share);
    state.motion = motion;
    state.share = share;
  }

  private readonly from: Triple = [0, 0, 0];
  private readonly to: Triple = [0, 0, 0];
  private cut(state: State, m: number, share: number) {
    const outline = this.outlines.get(this.motions.tool[m]);
    if (!outline || outline.radius <= 0) return;
    const i = 3 * m,
      high = this.grid.high;
    if (
      this.motions.kind[m] !== Kind.arc &&
      this.motions.start[i + 2] >= high &&
      this.motions.end[i + 2] >= high
    )
      return;
    const pieces = this.motions.pieces(m, Math.min(0.02, this.grid.cell / 8));
    const last = Math.ceil(pieces * share);
    this.motions.at(m, 0, this.from);
    for (let k = 1; k <= last; k++) {
      this.motions.at(m, Math.min(share, k / pieces), this.to);
      this.sweep(state, this.from, this.to, outline, this.motions.firstId + m);
      for (let a = 0; a < 3; a++) this.from[a] = this.to[a];
    }
  }

  private sweep(state: State, a: Triple, b: Triple, outline: Outline, id: number) {
    const { x, y, cell, nx, ny, high } = this.grid,
      r = outline.radius,
      rr = r * r;
    if (Math.min(a[2], b[2]) >= high) return;
    const i0 = Math.max(0, Math.ceil((Math.min(a[0], b[0]) - r - x) / cell - 0.5));
    const i1 = Math.min(nx - 1, Math.floor((Math.max(a[0], b[0]) + r - x) / cell - 0.5));
    const j0 = Math.max(0, Math.ceil((Math.min(a[1], b[1]) - r - y) / cell - 0.5));
    const j1 = Math.min(ny - 1, Math.floor((Math.max(a[1], b[1]) + r - y) / cell - 0.5));
    const dx = b[0] - a[0],
      dy = b[1] - a[1],
      dz = b[2] - a[2],
      along = dx * dx + dy * dy;
    const upright = along < 1e-12,
      level = Math.abs(dz) < 1e-9;
    for (let j = j0; j <= j1; j++) {
      const py = y + (j + 0.5) * cell - a[1];
      for (let i = i0; i <= i1; i++) {
        const px = x + (i + 0.5) * cell - a[0];
        const nearest = upright ? 0 : (px * dx + py * dy) / along;
        const s = Math.max(0, Math.min(1, nearest));
        const qx = px - s * dx,
          qy = py - s * dy,
          q = qx * qx + qy * qy;
        if (q > rr) continue;
        let height: number;
        if (upright) height = Math.min(a[2], b[2]) + outline.at(q);
        else if (level) height = a[2] + outline.at(q);
        else
          height = lowest(
            a[2],
            dz,
            along,
            nearest,
            rr,
            (px - nearest * dx) ** 2 + (py - nearest * dy) ** 2,
            outline,
          );
        const c = j * nx + i;
        if (height < state.floor[c] - 1e-6) this.lower(state, c, height, id);
      }
    }
  }

  private lower(state: State, c: number, height: number, id: number) {
    state.floor[c] = height;
    if (height >= state.top[c]) return;
    let k = this.first[c + 1] - 1;
    while (k > this.first[c] && this.crossings[k - 1] >= height) k -= 2; // spans wholly cut away
    if (k <= this.first[c]) {
      state.top[c] = nothing;
      state.id[c] = id;
    } else if (this.crossings[k] > height) {
      state.top[c] = height;
      state.id[c] = id;
    } else {
      // the tool stands in a hollow: the hollow's own floor is the top
      state.top[c] = this.crossings[k];
      state.id[c] = 0;
    }
  }
}

// Least of z(s) + outline(distance(s)) where the tool covers the column; both ends and a golden-section
// search, since the sum is convex in s for an outline that is.
function lowest(
  z: number,
  dz: number,
  along: number,
  nearest: number,
  rr: number,
  aside: number,
  outline: Outline,
): number {
  const half = Math.sqrt(Math.max(0, rr - aside) / along);
  let low = Math.max(0, nearest - half),
    high = Math.min(1, nearest + half);
  const at = (s: number) =>
    z + s * dz + outline.at(Math.min(rr, aside + (s - nearest) * (s - nearest) * along));
  let best = Math.min(at(low), at(high));
  const golden = 0.6180339887498949;
  let p = high - golden * (high - low),
    q = low + golden * (high - low),
    fp = at(p),
    fq = at(q);
  for (let k = 0; k < 12; k++) {
    if (fp < fq) {
      high = q;
      q = p;
      fq = fp;
      p = high - golden * (high - low);
      fp = at(p);
    } else {
      low = p;
      p = q;
      fp = fq;
      q = low + golden * (high - low);
      fq = at(q);
    }
  }
  return Math.min(best, fp, fq);
}

// Where the columns' axes go through a closed surface.
export function crossingsOf(grid: Grid, surface: Surface): [Uint32Array, Float32Array] {
  const n = grid.nx * grid.ny,
    { vertices: v, triangles: t } = surface;
  // Column axes are moved by a little, so that they miss edges of surfaces made on a lattice.
  const ox = grid.x + grid.cell * 0.50013,
    oy = grid.y + grid.cell * 0.50007;
  const first = new Uint32Array(n + 1);
  let crossings = new Float32Array(0);
  const fill = new Uint32Array(n);
  for (let pass = 0; pass < 2; pass++) {
    for (let k = 0; k < t.length; k += 3) {
      const a = 3 * t[k],
        b = 3 * t[k + 1],
        c = 3 * t[k + 2];
      const ax = v[a],
        ay = v[a + 1],
        bx = v[b] - ax,
        by = v[b + 1] - ay,
        cx = v[c] - ax,
        cy = v[c + 1] - ay;
      const area = bx * cy - by * cx;
      if (area === 0) continue;
      const i0 = Math.max(0, Math.ceil((Math.min(0, bx, cx) + ax - ox) / grid.cell));
      const i1 = Math.min(grid.nx - 1, Math.floor((Math.max(0, bx, cx) + ax - ox) / grid.cell));
      const j0 = Math.max(0, Math.ceil((Math.min(0, by, cy) + ay - oy) / grid.cell));
      const j1 = Math.min(grid.ny - 1, Math.floor((Math.max(0, by, cy) + ay - oy) / grid.cell));
      for (let j = j0; j <= j1; j++) {
        const py = oy + j * grid.cell - ay;
        for (let i = i0; i <= i1; i++) {
          const px = ox + i * grid.cell - ax;
          const p = (px * cy - py * cx) / area,
            q = (bx * py - by * px) / area;
          if (p < 0 || q < 0 || p + q > 1) continue;
          const column = j * grid.nx + i;
          if (pass === 0) first[column + 1]++;
          else
            crossings[first[column] + fill[column]++] =
              v[a + 2] + p * (v[b + 2] - v[a + 2]) + q * (v[c + 2] - v[a + 2]);
        }
      }
    }
    if (pass === 0) {
      for (let c = 0; c < n; c++) first[c + 1] += first[c];
      crossings = new Float32Array(first[n]);
    }
  }
  // Rising order; an odd one out, from an axis through an edge, is dropped.
  const tidy = new Float32Array(crossings.length),
    starts = new Uint32Array(n + 1);
  for (let c = 0; c < n; c++) {
    const list = crossings.subarray(first[c], first[c + 1]).sort();
    const even = list.length - (list.length % 2);
    tidy.set(list.subarray(0, even), starts[c]);
    starts[c + 1] = starts[c] + even;
  }
  return [starts, tidy.slice(0, starts[n])];
}

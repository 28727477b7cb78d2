// A picture of each setup before anything is cut: blank, part, zero, clamps and paths, from above and from the front. Where
// everything lies is the engine's word (run --forecast --layout); what is dragged here is written into the job's text.
import { el } from '../../page/src/dom';
import { boxTables, withBox, withNewBox, withQuarter, withZeroMoved, type Box, type Triple } from './layout_text';
import { readJobText, withoutTable } from './job_text';

interface Mesh {
  box: Box;
  points?: number[];
  triangles?: number[];
}
interface Setup {
  name: string;
  setup_from_stock: number[][];
  zero_known: boolean;
  zero_text: string;
  fixtures: { name: string; box: Box; mesh: boolean }[];
  ways: { rapid: boolean; tool: number; points: number[] }[];
}
export interface Layout {
  blank: Box;
  blank_mesh?: Mesh;
  part?: Mesh;
  supports: Box[];
  setups: Setup[];
}
type Change = (change: (text: string) => string) => void;

// Which axes of the setup's frame run to the right and up: from above, and from the front.
const looks = [
  { name: 'from above', right: 0, up: 1 },
  { name: 'from the front', right: 0, up: 2 },
];
type Look = (typeof looks)[number];

const corners = ([a, b]: Box): Triple[] => [0, 1, 2, 3, 4, 5, 6, 7].map((i) => [i & 1 ? b[0] : a[0], i & 2 ? b[1] : a[1], i & 4 ? b[2] : a[2]]);
const moved = (m: number[][], p: ArrayLike<number>): Triple => m.map((row) => row[0] * p[0] + row[1] * p[1] + row[2] * p[2] + row[3]) as Triple;

// The outline of points in a plane (Andrew's monotone chain).
function hull(points: [number, number][]): [number, number][] {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const half = (all: [number, number][]) => {
    const out: [number, number][] = [];
    for (const p of all) {
      for (;;) {
        const [a, b] = out.slice(-2);
        if (out.length < 2 || (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
        out.pop();
      }
      out.push(p);
    }
    return out.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

function bounds(layout: Layout, setup: Setup): Box {
  const low: Triple = [Infinity, Infinity, Infinity];
  const high: Triple = [-Infinity, -Infinity, -Infinity];
  const take = (p: ArrayLike<number>) => {
    for (let i = 0; i < 3; ++i) {
      low[i] = Math.min(low[i], p[i]);
      high[i] = Math.max(high[i], p[i]);
    }
  };
  take([0, 0, 0]);
  for (const box of [layout.blank, ...(layout.part ? [layout.part.box] : [])]) for (const c of corners(box)) take(moved(setup.setup_from_stock, c));
  for (const f of setup.fixtures) f.box.forEach(take);
  for (const w of setup.ways) for (let i = 0; i < w.points.length; i += 3) take([w.points[i], w.points[i + 1], w.points[i + 2]]);
  return [low, high];
}

class Picture {
  readonly canvas: HTMLCanvasElement;
  private still?: HTMLCanvasElement; // all that does not move while something is dragged
  private scale = 1;
  private origin: [number, number] = [0, 0];
  private drag?: { what: 'zero' | 'fixture' | 'support'; nth: number; edges: [number, number, number, number]; from: [number, number]; by: [number, number] };

  constructor(private layout: Layout, private setup: Setup, private nth: number, private look: Look, private extent: Box, private change: Change, private redraw: () => void) {
    const words = `Setup ${setup.name} ${look.name}: blank, part, zero, clamps and the tools' paths, before anything is cut.`;
    this.canvas = el('canvas', { class: 'layout', role: 'img', 'aria-label': words });
    this.canvas.addEventListener('pointerdown', (e) => this.down(e));
    this.canvas.addEventListener('pointermove', (e) => this.move(e));
    this.canvas.addEventListener('pointerup', () => this.up());
    this.canvas.addEventListener('pointercancel', () => { this.drag = undefined; this.draw(); });
  }

  // width: CSS pixels, with the same scale for both looks of a setup.
  size(width: number, scale: number): void {
    const tall = Math.ceil((this.extent[1][this.look.up] - this.extent[0][this.look.up]) * scale) + 2 * margin;
    const sharp = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(width * sharp);
    this.canvas.height = Math.round(tall * sharp);
    this.canvas.style.height = `${tall}px`;
    this.scale = scale;
    const wide = (this.extent[1][this.look.right] - this.extent[0][this.look.right]) * scale;
    this.origin = [(width - wide) / 2 - this.extent[0][this.look.right] * scale, tall - margin + this.extent[0][this.look.up] * scale];
    Object.assign(this.canvas.dataset, { scale: String(scale), zero: this.origin.join(' ') }); // for tests in a browser
    this.afresh();
  }

  private flat(p: ArrayLike<number>): [number, number] {
    return [this.origin[0] + p[this.look.right] * this.scale, this.origin[1] - p[this.look.up] * this.scale];
  }
  private ofStock = (p: ArrayLike<number>): [number, number] => this.flat(moved(this.setup.setup_from_stock, p));

  afresh(): void {
    this.still = undefined;
    this.draw();
  }

  draw(): void {
    const to = this.canvas.getContext('2d');
    if (!to || this.canvas.width === 0) return;
    const sharp = window.devicePixelRatio || 1;
    if (!this.still) {
      this.still = document.createElement('canvas');
      [this.still.width, this.still.height] = [this.canvas.width, this.canvas.height];
      const base = this.still.getContext('2d', { willReadFrequently: true })!; // drawn by the processor: thousands of short lines
      base.setTransform(sharp, 0, 0, sharp, 0, 0);
      this.drawStill(base);
    }
    to.setTransform(1, 0, 0, 1, 0, 0);
    to.clearRect(0, 0, this.canvas.width, this.canvas.height);
    to.drawImage(this.still, 0, 0);
    to.setTransform(sharp, 0, 0, sharp, 0, 0);
    this.drawBoxes(to);
    this.drawZero(to);
  }

  private colour(name: string): string {
    return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  }

  private outline(to: CanvasRenderingContext2D, points: [number, number][]): void {
    to.beginPath();
    hull(points).forEach(([x, y], i) => (i === 0 ? to.moveTo(x, y) : to.lineTo(x, y)));
    to.closePath();
  }

  // A mesh as a flat shape, pixel by pixel: a path of its ten thousands of triangles takes a browser a minute to fill.
  private mesh(to: CanvasRenderingContext2D, mesh: Mesh, colour: string): void {
    const { points, triangles } = mesh;
    to.fillStyle = colour;
    if (!points || !triangles) {
      this.outline(to, corners(mesh.box).map(this.ofStock));
      return to.fill();
    }
    const [width, height] = [this.canvas.width, this.canvas.height];
    const sharp = window.devicePixelRatio || 1;
    const shape = document.createElement('canvas');
    [shape.width, shape.height] = [width, height];
    const on = shape.getContext('2d', { willReadFrequently: true })!;
    on.fillStyle = colour;
    on.fillRect(0, 0, 1, 1);
    const [red, green, blue] = on.getImageData(0, 0, 1, 1).data;
    on.clearRect(0, 0, 1, 1);
    const image = on.getImageData(0, 0, width, height);
    const pixels = new Uint32Array(image.data.buffer);
    const ink = 0xff000000 | (blue << 16) | (green << 8) | red; // little end first, as all browsers' computers have it
    const flat = new Float64Array((points.length / 3) * 2);
    for (let i = 0, k = 0; i < points.length; i += 3) {
      const [x, y] = this.ofStock([points[i], points[i + 1], points[i + 2]]);
      flat[k++] = x * sharp;
      flat[k++] = y * sharp;
    }
    for (let i = 0; i < triangles.length; i += 3) {
      const [a, b, c] = [2 * triangles[i], 2 * triangles[i + 1], 2 * triangles[i + 2]];
      const [ax, ay, bx, by, cx, cy] = [flat[a], flat[a + 1], flat[b], flat[b + 1], flat[c], flat[c + 1]];
      const turn = Math.sign((bx - ax) * (cy - ay) - (by - ay) * (cx - ax));
      if (turn === 0) continue;
      // Half a pixel wider than it is, so that neighbours leave no gap.
      const inside = (x: number, y: number, x1: number, y1: number, x2: number, y2: number) =>
        turn * ((x2 - x1) * (y - y1) - (y2 - y1) * (x - x1)) >= -0.5 * (Math.abs(x2 - x1) + Math.abs(y2 - y1));
      const bottom = Math.min(height - 1, Math.floor(Math.max(ay, by, cy)));
      const right = Math.min(width - 1, Math.floor(Math.max(ax, bx, cx)));
      for (let y = Math.max(0, Math.floor(Math.min(ay, by, cy))); y <= bottom; ++y)
        for (let x = Math.max(0, Math.floor(Math.min(ax, bx, cx))); x <= right; ++x)
          if (inside(x + 0.5, y + 0.5, ax, ay, bx, by) && inside(x + 0.5, y + 0.5, bx, by, cx, cy) && inside(x + 0.5, y + 0.5, cx, cy, ax, ay)) pixels[y * width + x] = ink;
    }
    on.putImageData(image, 0, 0);
    to.save();
    to.setTransform(1, 0, 0, 1, 0, 0);
    to.drawImage(shape, 0, 0);
    to.restore();
  }

  // In short pieces, points nearer than half a pixel left out: one long path takes a browser many times as long.
  private way(to: CanvasRenderingContext2D, points: number[]): void {
    const most = 60;
    let [lastX, lastY] = this.flat(points);
    let count = 0;
    to.beginPath();
    to.moveTo(lastX, lastY);
    for (let i = 3; i < points.length; i += 3) {
      const x = this.origin[0] + points[i + this.look.right] * this.scale;
      const y = this.origin[1] - points[i + this.look.up] * this.scale;
      if (Math.abs(x - lastX) + Math.abs(y - lastY) < 0.5 && i + 3 < points.length) continue;
      to.lineTo(x, y);
      [lastX, lastY] = [x, y];
      if (++count % most > 0) continue;
      to.stroke();
      to.beginPath();
      to.moveTo(x, y);
    }
    to.stroke();
  }

  private drawStill(to: CanvasRenderingContext2D): void {
    const [card, ink, soft, trace, part] = ['--card', '--ink', '--soft', '--trace', '--part'].map((n) => this.colour(n));
    to.strokeStyle = soft;
    to.lineWidth = 1.5;
    if (this.layout.blank_mesh) this.mesh(to, this.layout.blank_mesh, card);
    else {
      to.fillStyle = card;
      this.outline(to, corners(this.layout.blank).map(this.ofStock));
      to.fill();
      to.stroke();
    }
    if (this.layout.part) this.mesh(to, this.layout.part, part);
    to.lineWidth = 1;
    for (const rapid of [false, true]) {
      to.strokeStyle = rapid ? ink : trace;
      to.globalAlpha = rapid ? 0.7 : 0.5;
      to.setLineDash(rapid ? [5, 4] : []);
      for (const way of this.setup.ways) if (way.rapid === rapid) this.way(to, way.points);
    }
    to.globalAlpha = 1;
    to.setLineDash([]);
  }

  // The box of a fixture or support in this look, moved by what is being dragged: left, low, right, high, mm.
  private place(box: Box, what: 'fixture' | 'support', nth: number): [number, number, number, number] {
    const points = what === 'fixture' ? box : corners(box).map((c) => moved(this.setup.setup_from_stock, c));
    const along = (axis: number) => [Math.min(...points.map((p) => p[axis])), Math.max(...points.map((p) => p[axis]))];
    const [[l, r], [b, t]] = [along(this.look.right), along(this.look.up)];
    const d = this.drag?.what === what && this.drag.nth === nth ? this.drag : undefined;
    const [x, y] = d?.by ?? [0, 0];
    const [el, eb, er, et] = d?.edges ?? [0, 0, 0, 0];
    return [l + el * x, b + eb * y, r + er * x, t + et * y];
  }

  private drawBoxes(to: CanvasRenderingContext2D): void {
    const draw = (box: Box, what: 'fixture' | 'support', nth: number, name: string) => {
      const [l, b, r, t] = this.place(box, what, nth);
      const x = this.origin[0] + l * this.scale;
      const y = this.origin[1] - t * this.scale;
      to.globalAlpha = what === 'fixture' ? 0.35 : 0.15;
      to.fillStyle = this.colour(what === 'fixture' ? '--bad' : '--trace');
      to.fillRect(x, y, (r - l) * this.scale, (t - b) * this.scale);
      to.globalAlpha = 1;
      to.strokeStyle = to.fillStyle;
      to.setLineDash(what === 'fixture' ? [] : [3, 3]);
      to.strokeRect(x, y, (r - l) * this.scale, (t - b) * this.scale);
      to.setLineDash([]);
      if (!name) return;
      to.fillStyle = this.colour('--ink');
      to.font = '12px system-ui, sans-serif';
      to.fillText(name, x + 2, y - 3);
    };
    this.layout.supports.forEach((s, i) => draw(s, 'support', i, ''));
    this.setup.fixtures.forEach((f, i) => draw(f.box, 'fixture', i, f.name));
  }

  private drawZero(to: CanvasRenderingContext2D): void {
    const d = this.drag?.what === 'zero' ? this.drag.by : [0, 0];
    const [x, y] = [this.origin[0] + d[0] * this.scale, this.origin[1] - d[1] * this.scale];
    to.strokeStyle = to.fillStyle = this.colour('--ink');
    to.lineWidth = 2;
    if (!this.setup.zero_known) to.setLineDash([3, 3]);
    to.beginPath();
    to.arc(x, y, 6, 0, 7);
    to.moveTo(x - 10, y);
    to.lineTo(x + 26, y);
    to.moveTo(x, y + 10);
    to.lineTo(x, y - 26);
    to.stroke();
    to.setLineDash([]);
    to.font = '600 12px system-ui, sans-serif';
    to.fillText('XYZ'[this.look.right], x + 28, y + 4);
    to.fillText('XYZ'[this.look.up], x - 4, y - 29);
  }

  private at(e: PointerEvent): [number, number] {
    const r = this.canvas.getBoundingClientRect();
    return [(e.clientX - r.left - this.origin[0]) / this.scale, (this.origin[1] - (e.clientY - r.top)) / this.scale];
  }

  private down(e: PointerEvent): void {
    const [x, y] = this.at(e);
    const near = (e.pointerType === 'mouse' ? 8 : 16) / this.scale;
    const begin = (what: 'zero' | 'fixture' | 'support', nth: number, edges: [number, number, number, number]) => {
      this.drag = { what, nth, edges, from: [x, y], by: [0, 0] };
      this.canvas.setPointerCapture(e.pointerId);
      e.preventDefault();
    };
    if (Math.hypot(x, y) < 1.5 * near) return begin('zero', 0, [0, 0, 0, 0]);
    const boxes = [...this.setup.fixtures.map((f, i) => ({ box: f.box, what: 'fixture' as const, i, fixed: f.mesh })), ...this.layout.supports.map((box, i) => ({ box, what: 'support' as const, i, fixed: false }))];
    for (const { box, what, i, fixed } of boxes) {
      const [l, b, r, t] = this.place(box, what, i);
      if (fixed || x < l - near || x > r + near || y < b - near || y > t + near) continue;
      // Near one of its edges that edge is drawn along, else the whole box.
      const nearer = (a: number, c: number, v: number): [number, number] => (Math.min(Math.abs(v - a), Math.abs(v - c)) > near ? [0, 0] : Math.abs(v - a) < Math.abs(v - c) ? [1, 0] : [0, 1]);
      const [el, er] = nearer(l, r, x);
      const [eb, et] = nearer(b, t, y);
      return begin(what, i, el + er + eb + et > 0 ? [el, eb, er, et] : [1, 1, 1, 1]);
    }
  }

  private move(e: PointerEvent): void {
    if (!this.drag) return;
    const [x, y] = this.at(e);
    // To half a millimetre, as fine as a hand draws here; the numbers beside take any.
    const round = (v: number) => Math.round(2 * v) / 2;
    this.drag.by = [round(x - this.drag.from[0]), round(y - this.drag.from[1])];
    this.draw();
  }

  private up(): void {
    const d = this.drag;
    this.drag = undefined;
    if (!d || (d.by[0] === 0 && d.by[1] === 0)) return this.draw();
    const { right, up } = this.look;
    const by: Triple = [0, 0, 0];
    [by[right], by[up]] = d.by;
    // What is drawn follows at once; the engine's own word comes when it has read the text.
    if (d.what === 'zero') {
      const rotation = this.setup.setup_from_stock.map((row) => [...row]);
      this.setup.setup_from_stock.forEach((row, axis) => (row[3] -= by[axis]));
      this.redraw();
      return this.change((text) => withZeroMoved(text, this.nth, by, rotation));
    }
    const low: Triple = [0, 0, 0];
    const high: Triple = [0, 0, 0];
    [low[right], low[up]] = [d.by[0] * d.edges[0], d.by[1] * d.edges[1]];
    [high[right], high[up]] = [d.by[0] * d.edges[2], d.by[1] * d.edges[3]];
    if (d.what === 'fixture') {
      const [a, b] = this.setup.fixtures[d.nth].box;
      const box: Box = [a.map((v, i) => v + low[i]) as Triple, b.map((v, i) => v + high[i]) as Triple];
      this.setup.fixtures[d.nth].box = box;
      this.redraw();
      return this.change((text) => withBox(text, 'setups.fixtures', this.nth, d.nth, box));
    }
    // A support stands in stock coordinates: the box as it lies here, turned back.
    const m = this.setup.setup_from_stock;
    const here = corners(this.layout.supports[d.nth]).map((c) => moved(m, c));
    const a = [0, 1, 2].map((i) => Math.min(...here.map((p) => p[i])) + low[i]);
    const b = [0, 1, 2].map((i) => Math.max(...here.map((p) => p[i])) + high[i]);
    const back = (p: number[]): Triple => [0, 1, 2].map((i) => [0, 1, 2].reduce((sum, row) => sum + m[row][i] * (p[row] - m[row][3]), 0)) as Triple;
    const [p, q] = [back(a), back(b)];
    const box: Box = [p.map((v, i) => Math.min(v, q[i])) as Triple, p.map((v, i) => Math.max(v, q[i])) as Triple];
    this.layout.supports[d.nth] = box;
    this.redraw();
    this.change((text) => withBox(text, 'part.supports', 0, d.nth, box));
  }
}

const margin = 34; // CSS pixels about the picture, for names

// ---- numbers beside the picture: the same by keyboard

// by: the values are ways to go, and stand at 0 again once gone.
function numbers(label: string, values: number[], change: (values: number[]) => void, by = false): HTMLElement[] {
  const inputs = values.map((v, i) => {
    const what = `${label}, ${values.length === 3 ? 'XYZ'[i] : `${i < 3 ? 'from' : 'to'} ${'XYZ'[i % 3]}`}, mm`;
    return el('input', { class: 'number', value: String(Number(v.toFixed(3)) + 0), 'aria-label': what, inputmode: 'decimal', autocomplete: 'off', change: () => {
      const now = inputs.map((input) => Number(input.value.replace(',', '.')));
      if (now.every(Number.isFinite)) {
        if (by) inputs.forEach((input) => (input.value = '0'));
        change(now);
      } else inputs.forEach((input, k) => input.setAttribute('aria-invalid', String(!Number.isFinite(now[k]))));
    } });
  });
  return inputs;
}

function boxRow(name: string, box: Box, put: (box: Box) => void, away: () => void): HTMLElement {
  return el('li', {}, el('span', {}, name), ' ', ...numbers(name, [...box[0], ...box[1]], (v) => put([v.slice(0, 3) as Triple, v.slice(3) as Triple])), ' ', el('button', { type: 'button', 'aria-label': `Take ${name} away`, click: away }, 'away'));
}

export function drawLayout(layout: Layout, change: Change): HTMLElement[] {
  return layout.setups.map((setup, nth) => {
    const extent = bounds(layout, setup);
    const pictures: Picture[] = looks.map((look) => new Picture(layout, setup, nth, look, extent, change, () => pictures.forEach((p) => p.afresh())));
    const take = (name: string, top: number, k: number) => change((text) => {
      const of = boxTables(readJobText(text), name, top)[k];
      return of ? withoutTable(text, of) : text;
    });
    const lying = corners(layout.blank).map((c) => moved(setup.setup_from_stock, c));
    const side = (axis: number, of: (...v: number[]) => number) => of(...lying.map((p) => p[axis]));
    const [left, front, top] = [side(0, Math.min), side(1, Math.min), side(2, Math.max)];
    const block = el(
      'figure',
      { class: 'setup-layout' },
      el('figcaption', {}, el('strong', {}, `Setup ${nth + 1}: ${setup.name}`), ' ', setup.zero_known ? setup.zero_text : 'The zero lies on faces that are milled first: it is drawn as if they were the blank\'s, so paths lie off here by what is milled away. Where it lies the run tells.'),
      ...pictures.map((p) => p.canvas),
      el(
        'div',
        { class: 'row' },
        ...['x', 'y', 'z'].map((axis) => el('button', { type: 'button', 'aria-label': `Turn the work of setup ${setup.name} by 90 degrees about ${axis}`, click: () => change((text) => withQuarter(text, nth, axis)) }, `Turn 90° about ${axis}`)),
        el('button', { type: 'button', 'aria-label': `Add a clamp to setup ${setup.name}`, click: () => change((text) => withNewBox(text, 'setups.fixtures', nth, [[left - 20, front, top], [left + 8, front + 20, top + 10]])) }, 'Add a clamp'),
        layout.part && nth === 0 && el('button', { type: 'button', click: () => change((text) => withNewBox(text, 'part.supports', 0, [layout.part!.box[0], layout.part!.box[0].map((v, i) => Math.min(v + 10, layout.part!.box[1][i])) as Triple])) }, 'Add a support'),
      ),
      el('div', { class: 'row small' }, 'Move the zero by, mm', ...numbers(`Zero of setup ${setup.name} moved`, [0, 0, 0], (v) => change((text) => withZeroMoved(text, nth, v as Triple, setup.setup_from_stock)), true)),
      setup.fixtures.length > 0 && el('p', { class: 'small' }, 'Clamps, from and to, mm in the setup\'s frame'),
      el('ul', { class: 'boxes' }, ...setup.fixtures.map((f, k) => (f.mesh ? el('li', {}, `${f.name}: a mesh, moved by its origin in the form`) : boxRow(f.name || `clamp ${k + 1}`, f.box, (box) => change((text) => withBox(text, 'setups.fixtures', nth, k, box)), () => take('setups.fixtures', nth, k))))),
      nth === 0 && layout.supports.length > 0 && el('details', {}, el('summary', {}, `Supports: ${layout.supports.length}, mm in stock coordinates`), el('ul', { class: 'boxes' }, ...layout.supports.map((s, k) => boxRow(`support ${k + 1}`, s, (box) => change((text) => withBox(text, 'part.supports', 0, k, box)), () => take('part.supports', 0, k))))),
    );
    // Drawn once it has its width, and again with another.
    new ResizeObserver(() => {
      const width = pictures[0].canvas.clientWidth;
      if (width < 40) return;
      const tallest = Math.max(...looks.map((l) => extent[1][l.up] - extent[0][l.up]));
      const scale = Math.max(0.01, Math.min((width - 2 * margin) / Math.max(1e-6, extent[1][0] - extent[0][0]), 300 / Math.max(1e-6, tallest)));
      for (const p of pictures) p.size(width, scale);
    }).observe(pictures[0].canvas);
    return block;
  });
}

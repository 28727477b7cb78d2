// The piece as it lies on the machine before a setup, drawn to scale for the sheet: from above and, below
// it, from the front. Millimetres of the setup; y and z go up on paper.
import type { About, PieceSection, Setup, Triple } from './data.ts';
import { el, plain, svg } from './dom.ts';
import { blankBox, setupFromStock } from './scene_data.ts';

// Which of the setup's axes go right and up in a view.
interface Frame {
  across: 0 | 1;
  up: 1 | 2;
  name: string;
}
const above: Frame = { across: 0, up: 1, name: 'from above' };
const front: Frame = { across: 0, up: 2, name: 'from the front' };

// The corner that is marked by hand on the blank before the first setup.
function markedCorner(about: About): Triple {
  const first = about.setups[0];
  const { low, high } = blankBox(about, first);
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].map(
    (k) => about.stock_size.map((v, a) => ((k >> a) & 1 ? v : 0)) as Triple,
  );
  return corners.find((corner) => {
    const [x, y, z] = setupFromStock(first, corner);
    return x - low[0] < 1e-6 && y - low[1] < 1e-6 && high[2] - z < 1e-6;
  })!;
}

class Drawing {
  private readonly low: Triple;
  private readonly high: Triple;
  private readonly unit: number; // mm of a letter's height
  constructor(
    private readonly about: About,
    private readonly setup: Setup,
    private readonly frame: Frame,
  ) {
    ({ low: this.low, high: this.high } = blankBox(about, setup));
    this.unit = Math.max(...this.low.map((v, k) => this.high[k] - v)) / 24;
  }

  private place(p: Triple): [number, number] {
    return [p[this.frame.across], -p[this.frame.up]];
  }
  private text(x: number, y: number, words: string, anchor = 'middle') {
    return svg('text', { x, y, 'font-size': this.unit * 1.35, 'text-anchor': anchor }, words);
  }
  private line(a: [number, number], b: [number, number], name: string) {
    return svg('line', { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: name });
  }

  private outline(sections: PieceSection[]): SVGElement[] {
    return sections.map(({ contours, at }, i) =>
      svg('path', {
        class: i === 0 ? 'outline' : 'outline under',
        'data-at': at,
        d: contours
          .map(
            (c) =>
              c.map((v, k) => `${k === 0 ? 'M' : k % 2 ? ' ' : 'L'}${k % 2 ? -v : v}`).join('') +
              'Z',
          )
          .join(''),
      }),
    );
  }

  private fixtures(): SVGElement[] {
    return this.setup.fixtures.flatMap(({ name, low, high }) => {
      const [x0, y1] = this.place(low),
        [x1, y0] = this.place(high);
      return [
        svg('rect', { x: x0, y: y0, width: x1 - x0, height: y1 - y0, class: 'fixture' }),
        this.text((x0 + x1) / 2, (y0 + y1) / 2 + this.unit * 0.45, name),
      ];
    });
  }

  private zero(): SVGElement[] {
    const u = this.unit;
    const arrow = (x: number, y: number, name: string) => [
      this.line([0, 0], [x, y], 'axis'),
      svg('path', {
        class: 'axis head',
        d: `M${x} ${y}l${-x / 4 - y / 8} ${-y / 4 + x / 8}l${y / 4} ${-x / 4}z`,
      }),
      this.text(x * 1.35, y * 1.3 + u * 0.45, name),
    ];
    return [
      ...arrow(4 * u, 0, 'X'),
      ...arrow(0, -4 * u, 'xYZ'[this.frame.up]),
      svg('circle', { cx: 0, cy: 0, r: u * 0.55, class: 'zero' }),
    ];
  }

  // The axis the work was turned about, through the blank's middle, with an arrow round it.
  private turn(): SVGElement[] {
    const [x0, y1] = this.place(this.low),
      [x1, y0] = this.place(this.high),
      u = this.unit;
    const cx = (x0 + x1) / 2,
      cy = (y0 + y1) / 2;
    return this.setup.turns.flatMap(({ about, degrees }) => {
      const words = `turned ${plain(degrees)}° about ${about}`;
      const half = Math.abs(degrees) > 90;
      if (about === 'x')
        return [
          this.line([x0 - 3 * u, cy], [x1 + 3 * u, cy], 'turn-axis about-x'),
          svg('path', {
            class: 'turn about-x',
            d: `M${x0 - 2 * u} ${cy + 1.6 * u}a${0.8 * u} ${1.6 * u} 0 ${half ? 1 : 0} 1 ${0.4 * u} ${-3 * u}l${-0.9 * u} ${0.1 * u}m${0.9 * u} ${-0.1 * u}l${-0.3 * u} ${0.9 * u}`,
          }),
          this.text(cx, y0 - 1.2 * u, words),
        ];
      if (about === 'y')
        return [
          this.line([cx, y0 - 3 * u], [cx, y1 + 3 * u], 'turn-axis about-y'),
          svg('path', {
            class: 'turn about-y',
            d: `M${cx - 1.6 * u} ${y0 - 2 * u}a${1.6 * u} ${0.8 * u} 0 ${half ? 1 : 0} 1 ${3 * u} ${0.4 * u}l${-0.1 * u} ${-0.9 * u}m${0.1 * u} ${0.9 * u}l${-0.9 * u} ${-0.3 * u}`,
          }),
          this.text(cx + 2.2 * u, y0 - 2.4 * u, words, 'start'),
        ];
      return [
        svg('path', {
          class: 'turn about-z',
          d: `M${cx + 2 * u} ${cy}a${2 * u} ${2 * u} 0 1 0 ${-2 * u} ${2 * u}l${-0.6 * u} ${-0.7 * u}m${0.6 * u} ${0.7 * u}l${-0.7 * u} ${0.5 * u}`,
        }),
        this.text(cx, y0 - 1.2 * u, words),
      ];
    });
  }

  private corner(): SVGElement[] {
    const at = setupFromStock(this.setup, markedCorner(this.about)),
      [x, y] = this.place(at),
      u = this.unit;
    const inX = x - this.low[this.frame.across] < 1e-6 ? 1 : -1;
    const inY = -y - this.low[this.frame.up] < 1e-6 ? -1 : 1;
    // What faces away from the reader is drawn hollow.
    const depth = this.frame.up === 1 ? 2 : 1;
    const seen = depth === 2 ? this.high[2] - at[2] < 1e-6 : at[1] - this.low[1] < 1e-6;
    return [
      svg('path', {
        class: seen ? 'corner' : 'corner hidden',
        d: `M${x} ${y}l${inX * 1.6 * u} 0l${-inX * 1.6 * u} ${inY * 1.6 * u}z`,
      }),
    ];
  }

  element(): SVGElement {
    const { low, high, setup, unit: u } = this;
    const [x0, y1] = this.place(low),
      [x1, y0] = this.place(high);
    const clamps = setup.fixtures.map((f) => [this.place(f.low), this.place(f.high)]);
    const m = 4.2 * u,
      left = Math.min(x0, 0, ...clamps.map(([a]) => a[0])) - m,
      right = Math.max(x1, 4 * u, ...clamps.map(([, b]) => b[0])) + m,
      top = Math.min(y0, -4 * u, ...clamps.map(([, b]) => b[1])) - m,
      bottom = Math.max(y1, 0, ...clamps.map(([a]) => a[1])) + m;
    const bar = 10 ** Math.floor(Math.log10((x1 - x0) / 2));
    const up = this.frame.up;
    const sections = up === 1 ? setup.drawing?.plan : setup.drawing?.front;
    return svg(
      'svg',
      {
        viewBox: `${left} ${top} ${right - left} ${bottom - top}`,
        class: 'sketch',
        role: 'img',
        'aria-label': `Setup ${setup.name} ${this.frame.name}: the piece as it lies, its zero, the marked corner`,
      },
      svg('rect', { x: x0, y: y0, width: x1 - x0, height: y1 - y0, class: 'blank' }),
      ...this.outline(sections ?? []),
      ...this.fixtures(),
      ...(up === 1 ? this.turn() : []),
      ...this.corner(),
      ...this.zero(),
      this.text((x0 + x1) / 2, y1 + 1.9 * u, plain(x1 - x0)),
      this.text(x1 + 0.6 * u, y1 - (y1 - y0) / 4, plain(y1 - y0), 'start'),
      this.line([left + u, bottom - u], [left + u + bar, bottom - u], 'scale'),
      this.text(left + 1.6 * u + bar, bottom - 0.6 * u, `${plain(bar)} mm`, 'start'),
    );
  }
}

// Whether earlier setups have milled the marked corner off.
function cornerGone(about: About, setup: Setup): boolean {
  if (!setup.drawing) return false;
  const { low, high } = setup.drawing;
  const at = setupFromStock(setup, markedCorner(about));
  return at.some((v, a) => v < low[a] - about.voxel || v > high[a] + about.voxel);
}

export function drawings(about: About, setup: Setup): HTMLElement {
  const plan = setup.drawing?.plan;
  // Both views in one scale: as wide as they are in millimetres, the taller one no higher than so many pixels.
  const views = [above, front].map((frame) => new Drawing(about, setup, frame).element());
  const boxes = views.map((view) => view.getAttribute('viewBox')!.split(' ').map(Number));
  const widest = Math.max(...boxes.map((box) => box[2])),
    tallest = Math.max(...boxes.map((box) => box[3]));
  views.forEach((view, i) => (view.style.width = `${(100 * boxes[i][2]) / widest}%`));
  const holder = el('div', {}, ...views);
  holder.style.maxWidth = `${(240 * widest) / tallest}px`;
  return el(
    'figure',
    { class: 'sheet-sketch' },
    holder,
    el(
      'figcaption',
      { class: 'small' },
      'Above: from above. Below: from the front. Dashed box: the blank as it lies. ' +
        (plan
          ? `Full line: the piece at Z ${plain(plan[0].at)}; dotted: at Z ${plain(plan[1].at)}; from the front: cut at Y ${plain(setup.drawing!.front[0].at)}. `
          : 'Nothing is milled yet. ') +
        'Triangle: the corner marked on the blank before the first setup (left, front, top as it lay then); hollow where it faces away.' +
        (cornerGone(about, setup)
          ? ' It is milled off by now: mark the corner of what is left before the piece is unclamped.'
          : ''),
    ),
  );
}

// The picture under the pointer: what a click says of the spot, how far it is from the click before,
// and the keys that turn the picture.
import type { Triple } from './data.ts';
import type { Block } from './block.ts';
import { button } from './controls.ts';
import { reach } from './difference.ts';
import { clock, el, figure, terms } from './dom.ts';
import { measured, placeWords, senses, toolWords } from './moment.ts';
import { measures, type Measure } from './motions.ts';
import type { Side } from './side.ts';
import type { Hit } from './view.ts';

const turns: Record<string, [number, number, number]> = {
  ArrowLeft: [-8, 0, 1],
  ArrowRight: [8, 0, 1],
  ArrowUp: [0, 8, 1],
  ArrowDown: [0, -8, 1],
  '+': [0, 0, 0.87],
  '=': [0, 0, 0.87],
  '-': [0, 0, 1.15],
};

export class Pointer {
  readonly element = el('div', { class: 'picked', role: 'status', 'aria-live': 'polite' });
  private last: Triple | null = null;
  setup = -1; // the one that is shown

  constructor(
    private readonly side: Side,
    private readonly block: Block | null, // where the program is shown
    private readonly coloured: () => string,
    private readonly go: (setup: number, motion: number) => void,
  ) {
    if (block)
      this.say(
        el(
          'p',
          { class: 'small' },
          'Click on the stock: the motion that made that spot is named here, and how far it is from the click before.',
        ),
      );
    const view = side.view;
    const canvas = view?.canvas;
    let down: [number, number] | null = null;
    canvas?.addEventListener('pointerdown', (e) => {
      down = [e.clientX, e.clientY];
    });
    canvas?.addEventListener('pointerup', (e) => {
      if (down && Math.hypot(e.clientX - down[0], e.clientY - down[1]) < 4) {
        const box = canvas.getBoundingClientRect();
        this.pick(e.clientX - box.left, e.clientY - box.top);
      }
      down = null;
    });
    canvas?.addEventListener('keydown', (e) => {
      if (e.key === 'Enter') this.pick(canvas.clientWidth / 2, canvas.clientHeight / 2);
      else if (turns[e.key]) view!.turn(...turns[e.key]);
      else return;
      e.preventDefault();
    });
  }

  load(setup: number) {
    this.setup = setup;
    this.last = null;
  }

  say(...parts: HTMLElement[]) {
    this.element.replaceChildren(...parts);
  }

  private pick(x: number, y: number) {
    const hit = this.side.view?.pick(x, y) ?? null;
    if (!hit) return this.say(el('p', { class: 'small' }, 'Nothing there.'));
    const owner = this.side.motions.findIndex(
      (m) => hit.id >= m.firstId && hit.id < m.firstId + m.count,
    );
    this.say(
      ...(hit.inside
        ? [el('p', {}, 'Inside of the material, opened by the section plane')]
        : owner < 0
          ? [el('p', {}, "The blank's own surface, not cut")]
          : this.motionWords(owner, hit.id - this.side.motions[owner].firstId)),
      this.placeAnd(hit),
    );
    this.side.view!.mark(this.last ? [this.last, hit.at] : [hit.at]);
    this.last = hit.at;
  }

  // While it is cut the distance comes from a lattice that knows no more than grey either way.
  private away(mm: number): string {
    if (this.coloured() === 'difference') {
      const bound = Math.abs(mm) >= reach ? ' or more' : '';
      return `${figure(Math.abs(mm))} mm${bound} ${mm < 0 ? 'less' : 'more'} than the other leaves`;
    }
    const most = this.side.about.deviation_grey;
    if (mm > most) return `more than ${figure(most)} mm`;
    const bound = Math.abs(Math.abs(mm) - most) < 0.01 ? ' or more' : '';
    return `${figure(Math.abs(mm))} mm${bound} ${mm < 0 ? 'cut into' : 'left on'} the part`;
  }

  private placeAnd({ at, away, inside, thick }: Hit): HTMLElement {
    const d = this.last?.map((v, k) => at[k] - v) as Triple | undefined;
    const stands = this.side.view!.finishAt(at);
    const signed = (v: number) => `${v < 0 ? '-' : '+'}${Math.abs(v).toFixed(2)}`;
    return terms(
      [
        ['at', placeWords(at)],
        [
          this.coloured() === 'difference' ? 'at the end' : 'from the part',
          inside || away === null ? '' : this.away(away),
        ],
        ['stands up', stands === null ? '' : `${figure(stands)} mm above its valleys`],
        ['thick', thick === null ? '' : `${thick.toFixed(2)} mm, square to the surface`],
        ['from the click before', d ? `${Math.hypot(...d).toFixed(2)} mm` : ''],
        ['dx, dy, dz', d ? d.map(signed).join(', ') : ''],
      ],
      { class: 'readings' },
    );
  }

  private motionWords(owner: number, m: number): HTMLElement[] {
    const { about } = this.side,
      motions = this.side.motions[owner],
      setup = about.setups[owner],
      coloured = this.coloured();
    const by: Measure = coloured in measures ? (coloured as Measure) : 'force_n';
    const file = setup.files[motions.file[m]]?.name ?? setup.program;
    const here = owner === this.setup;
    const text = (here && this.block?.text(motions.file[m], motions.line[m])) || '';
    if (here) this.block?.point(motions.file[m], motions.line[m]);
    return [
      el('p', {}, el('b', {}, toolWords(about, motions.tool[m])), `, setup ${setup.name}`),
      el(
        'p',
        {},
        `${file} line `,
        el('b', { 'data-line': motions.line[m] }, motions.line[m]),
        text && ': ',
        text && el('code', {}, text),
      ),
      el(
        'p',
        {},
        `${[senses[motions.sense[m]], `${measures[by].label} ${measured(motions, m, by)}`].filter(Boolean).join(', ')}, made at ${clock(motions.startS[m])} `,
        button('Show that moment', () => this.go(owner, m)),
      ),
    ];
  }
}

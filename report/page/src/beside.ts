// Another result beside this one: which, how its moments go with this one's, and in what the two differ.
import { Bulk, readAbout, type OtherRun } from './data.ts';
import { choice } from './controls.ts';
import { differenceOf, type Difference, mostWords } from './difference.ts';
import { clock, el } from './dom.ts';
import { Side } from './side.ts';

const pairings = { path: 'share of the path', time: 'time' } as const;
export type Pairing = keyof typeof pairings;

type Pair = [Difference, Difference];

export class Beside {
  readonly element = el('figure', { class: 'one beside' });
  readonly controls: HTMLElement;
  readonly caption = el('figcaption', {});
  side: Side | null = null;
  name = '';
  private chosen = -1;
  private by: Pairing = 'path';
  private readonly opened = new Map<number, Side>();
  private readonly differences = new Map<string, Pair | 'working' | string>();

  // changed: another run, another pairing, or a difference that was worked out.
  constructor(
    private readonly main: Side,
    private readonly others: OtherRun[],
    private readonly changed: () => void,
  ) {
    const names = others.flatMap(({ name, missing }, k): [string, string][] =>
      missing ? [] : [[String(k), name]],
    );
    this.controls = el(
      'div',
      { class: 'switches pairing' },
      choice('Beside', [['-1', 'nothing'], ...names], names[0][0], (k) => void this.choose(Number(k))),
      choice<Pairing>('Together by', pairings, this.by, (by) => {
        this.by = by;
        this.changed();
      }),
    );
    this.chosen = Number(names[0][0]);
    this.element.append(el('div', { class: 'picture' }, el('p', { class: 'small' }, 'opening...')));
  }

  // The first one that has a picture.
  open() {
    return this.choose(this.chosen);
  }

  private async choose(k: number) {
    this.chosen = k;
    this.side = null;
    this.element.hidden = k < 0;
    if (k >= 0) {
      this.name = this.others[k].name;
      try {
        const at = this.others.slice(0, k).filter((o) => !o.missing).length + 1;
        const side =
          this.opened.get(k) ?? new Side(readAbout(`about-${at}`), await Bulk.read(`bulk-${at}`));
        this.opened.set(k, side);
        if (this.chosen !== k) return;
        this.side = side;
        this.element.replaceChildren(side.picture, this.caption);
      } catch (error) {
        const why = error instanceof Error ? error.message : String(error);
        this.element.replaceChildren(el('p', {}, `${this.name} could not be opened: ${why}.`));
      }
    }
    this.changed();
  }

  // The setup of the other that goes with one of this run: of its name, or else in its place; -1: none.
  partnerOf(index: number): number {
    const all = this.side?.about.setups ?? [];
    const named = all.findIndex((s) => s.name === this.main.about.setups[index].name);
    return named >= 0 ? named : index < all.length ? index : -1;
  }

  // Shows the setup that goes with the main one; null: there is none.
  show(later: () => void): Side | null {
    const { side, main } = this;
    if (!side) return null;
    const index = this.partnerOf(main.index);
    side.picture.hidden = index < 0;
    if (index < 0) {
      this.caption.textContent = `${this.name} has no setup that goes with ${main.setup.name}`;
      side.index = -1;
      return null;
    }
    if (index !== side.index) side.show(index, later);
    return side;
  }
  // The other, where it has a setup that goes with this one's.
  get shown(): Side | null {
    return this.side && this.side.index >= 0 ? this.side : null;
  }

  // Where the slider ends: by time the longer one says.
  get span(): number {
    const own = this.main.setup.time_s;
    return this.by === 'time' && this.shown ? Math.max(own, this.shown.setup.time_s) : own;
  }
  // Of a moment of the slider, when that is in the other.
  timeOf(time: number): number {
    const { main, shown, by } = this;
    if (!shown) return 0;
    const total = shown.setup.time_s;
    if (by === 'time') return Math.min(time, total);
    if (time <= 0) return 0;
    if (time >= main.setup.time_s - 1e-6) return total;
    return shown.moving.timeAt(main.moving.shareAt(time));
  }
  // And the other way round.
  fromOther(time: number): number {
    const { main, shown, by } = this;
    if (!shown || by === 'time') return time;
    if (time >= shown.setup.time_s - 1e-6) return main.setup.time_s;
    return main.moving.timeAt(shown.moving.shareAt(time));
  }

  private get key() {
    return `${this.chosen} ${this.main.index}`;
  }
  get working(): boolean {
    return this.differences.get(this.key) === 'working';
  }
  // Of this run and of the other; null: not known (yet), and why.
  get difference(): Pair | null {
    const found = this.differences.get(this.key);
    return Array.isArray(found) ? found : null;
  }
  get unknown(): string {
    const found = this.differences.get(this.key);
    return typeof found === 'string' && found !== 'working' ? found : '';
  }

  async workOut() {
    const { main, shown, key } = this;
    if (!shown || this.differences.has(key)) return;
    this.differences.set(key, 'working');
    const ends = [main, shown].map((side) => side.bulk.surface(side.setup.after));
    const pause = () => new Promise((next) => setTimeout(next));
    try {
      const [a, b] = ends;
      if (!a || !b) throw new Error('what is left after the setup is not on both pages');
      const sizes = [main.about.stock_size, shown.about.stock_size];
      this.differences.set(key, [
        await differenceOf(a.vertices, sizes[0], b, pause),
        await differenceOf(b.vertices, sizes[1], a, pause),
      ]);
    } catch (error) {
      this.differences.set(key, error instanceof Error ? error.message : String(error));
    }
    this.changed();
  }

  // Who it is, where it stands, and the most that it differs by at the end.
  words(side: Side, name: string, difference: Difference | null): string {
    const { about, setup, moving, motion: m } = side;
    const at = m < 0 ? 'before the first motion' : `T${moving.tool[m]}, line ${moving.line[m]}`;
    const most = difference && `; at the setup's end ${mostWords(difference)}`;
    return (
      `${name}${about.made ? `, ${about.made}` : ''}: setup ${setup.name}, ${setup.program}, ${at}, ` +
      `${clock(side.time)} of ${clock(setup.time_s)}${most || ''}`
    );
  }
}

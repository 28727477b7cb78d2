// The NC text around the block under way. Lines are buttons: each goes to the first motion it makes.
import type { Bulk, Setup } from './data.ts';
import { el } from './dom.ts';
import type { Motions } from './motions.ts';

export class Block {
  readonly element: HTMLElement;
  private readonly list = el('ol', { class: 'nc' });
  private readonly name = el('p', { class: 'small' });
  private texts: string[][] = [];
  private names: string[] = [];
  private firstMotion: Map<number, number>[] = [];
  private shown = '';

  constructor(
    private readonly go: (motion: number) => void,
    private readonly before = 6,
    private readonly after = 8,
  ) {
    this.element = el('div', { class: 'block' }, el('h3', {}, 'Block'), this.name, this.list);
  }

  load(setup: Setup, motions: Motions, bulk: Bulk) {
    this.names = setup.files.map((f) => f.name);
    this.texts = setup.files.map((f) => bulk.text(f.text).split(/\r\n|\n|\r/));
    this.firstMotion = setup.files.map(() => new Map());
    for (let m = 0; m < motions.count; m++) {
      const lines = this.firstMotion[motions.file[m]];
      if (lines && !lines.has(motions.line[m])) lines.set(motions.line[m], m);
    }
    this.shown = '';
  }

  text(file: number, line: number): string {
    return this.texts[file]?.[line - 1] ?? '';
  }
  nameOf(file: number): string {
    return this.names[file] ?? '';
  }
  motionOf(file: string, line: number): number {
    const index = Math.max(0, this.names.indexOf(file));
    return this.firstMotion[index]?.get(line) ?? -1;
  }

  show(file: number, line: number) {
    const key = `${file}:${line}`;
    if (key === this.shown || !this.texts[file]) return;
    this.shown = key;
    this.name.textContent = this.names[file];
    const lines = this.texts[file],
      items: HTMLElement[] = [];
    const from = Math.max(1, line - this.before),
      to = Math.min(lines.length, line + this.after);
    for (let n = from; n <= to; n++) {
      const motion = this.firstMotion[file].get(n);
      const words = [el('span', { class: 'ln' }, n), el('code', {}, lines[n - 1])];
      items.push(
        el(
          'li',
          { class: n === line ? 'here' : '', 'aria-current': n === line ? 'true' : 'false' },
          motion === undefined
            ? el('span', {}, ...words)
            : el('button', { type: 'button', click: () => this.go(motion) }, ...words),
        ),
      );
    }
    this.list.replaceChildren(...items);
  }
}

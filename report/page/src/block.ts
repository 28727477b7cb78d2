// The NC program: all of it scrolls, the block under way is marked, lines can be gone to by number and
// found by what they say. Lines are buttons: each goes to the first motion it makes.
import type { Bulk, Setup } from './data.ts';
import { button } from './controls.ts';
import { el } from './dom.ts';
import type { Motions } from './motions.ts';

// The next line after `from` (1-based, round the end) that holds the words, whatever their case; 0: none.
export function findLine(lines: string[], words: string, from: number): number {
  const wanted = words.toLowerCase();
  for (let k = 0; k < lines.length; k++) {
    const n = ((from + k) % lines.length) + 1;
    if (lines[n - 1].toLowerCase().includes(wanted)) return n;
  }
  return 0;
}

export class Block {
  readonly element: HTMLElement;
  // Only the lines in sight are elements: a program may have a million.
  private readonly list = el('ol', {});
  private readonly all = el('div', { class: 'nc-all' }, this.list);
  private readonly box = el(
    'div',
    { class: 'nc', tabindex: 0, role: 'region', 'aria-label': 'Program' },
    this.all,
  );
  private readonly name = el('p', { class: 'small' });
  private readonly said = el('span', { class: 'small', role: 'status' });
  private readonly wanted = el('input', {
    type: 'search',
    'aria-label': 'Line number, or words to find',
    placeholder: 'line, or words',
    size: 12,
    keydown: (e) => (e as KeyboardEvent).key === 'Enter' && this.seek(),
  });
  private texts: string[][] = [];
  private names: string[] = [];
  private motions: Motions | null = null;
  private file = 0;
  private here = 0; // line under way; 0: none
  private found = 0; // line that was looked for; 0: none
  private tall = 17; // px, of a line

  constructor(private readonly go: (motion: number) => void) {
    this.box.addEventListener('scroll', () => this.fill());
    this.element = el(
      'div',
      { class: 'block' },
      el('h3', {}, 'Program'),
      this.name,
      this.box,
      el(
        'div',
        { class: 'seek no-print' },
        this.wanted,
        button('Go', () => this.seek()),
        this.said,
      ),
    );
  }

  load(setup: Setup, motions: Motions, bulk: Bulk) {
    this.names = setup.files.map((f) => f.name);
    this.texts = setup.files.map((f) => bulk.text(f.text).split(/\r\n|\n|\r/));
    this.motions = motions;
    this.file = -1;
    this.said.textContent = '';
  }

  text(file: number, line: number): string {
    return this.texts[file]?.[line - 1] ?? '';
  }
  // line 0: none of it is under way; the beginning is shown.
  show(file: number, line: number) {
    if ((file === this.file && line === this.here && !this.found) || !this.texts[file]) return;
    this.turnTo(file);
    this.here = line;
    this.found = 0;
    this.reveal(line);
  }

  // Marks a line that was asked for, beside the one under way.
  point(file: number, line: number) {
    if (!this.texts[file]) return;
    this.turnTo(file);
    this.found = line;
    this.reveal(line);
  }

  private turnTo(file: number) {
    if (file === this.file) return;
    this.here = 0; // a line of the other file
    this.file = file;
    this.name.textContent = `${this.names[file]}, ${this.texts[file].length} lines`;
  }

  private reveal(line: number) {
    const lines = this.texts[this.file].length;
    this.tall = parseFloat(getComputedStyle(this.box).lineHeight) || this.tall;
    this.all.style.height = `${lines * this.tall}px`;
    const top = this.box.scrollTop / this.tall,
      rows = this.box.clientHeight / this.tall;
    if (line - 1 < top + 2 || line > top + rows - 2)
      this.box.scrollTop = (line - 1 - Math.floor(rows / 3)) * this.tall;
    this.fill();
  }

  private fill() {
    const lines = this.texts[this.file] ?? [];
    const from = Math.max(0, Math.floor(this.box.scrollTop / this.tall) - 4),
      to = Math.min(lines.length, from + Math.ceil(this.box.clientHeight / this.tall) + 8);
    this.list.style.top = `${from * this.tall}px`;
    this.list.start = from + 1;
    const items = lines.slice(from, to).map((text, k) => {
      const n = from + k + 1;
      const motion = this.motions?.ofLine(this.file, n)[0];
      const words = [el('span', { class: 'ln' }, n), el('code', {}, text)];
      const marks = [n === this.here && 'here', n === this.found && 'found'];
      return el(
        'li',
        { class: marks.filter(Boolean).join(' '), 'aria-current': n === this.here ? 'true' : 'false' },
        motion === undefined
          ? el('span', {}, ...words)
          : el('button', { type: 'button', tabindex: -1, click: () => this.go(motion) }, ...words),
      );
    });
    this.list.replaceChildren(...items);
  }

  private seek() {
    const words = this.wanted.value.trim(),
      lines = this.texts[this.file];
    this.said.textContent = '';
    if (!words || !lines) return;
    const number = /^\d+$/.test(words) ? Number(words) : 0;
    const line = number || findLine(lines, words, this.found || this.here);
    if (line < 1 || line > lines.length) {
      this.said.textContent = number ? `it has ${lines.length} lines` : 'not found';
      return;
    }
    const motion = this.motions?.ofLine(this.file, line)[0];
    if (motion !== undefined) this.go(motion);
    this.point(this.file, line);
    this.said.textContent = `line ${line}${motion === undefined ? ' moves nothing' : ''}`;
  }
}

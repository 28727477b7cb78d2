// The tape: a setup's time from left to right, its tools as runs, its findings as pins, and the
// slider that runs along it.
import type { Finding, Setup } from './data.ts';
import { clock, el } from './dom.ts';
import type { Motions } from './motions.ts';
import { levelColours } from './stage.ts';

export class Tape {
  readonly element: HTMLElement;
  private readonly slider: HTMLInputElement;
  private readonly stretches = el('div', { class: 'stretches', 'aria-hidden': 'true' });
  private readonly marks = el('div', { class: 'marks' });
  private readonly reading = el('output', { class: 'reading', for: 'moment' });

  constructor(private readonly moved: (time: number) => void) {
    this.slider = el('input', {
      type: 'range',
      id: 'moment',
      min: 0,
      max: 1,
      step: 'any',
      value: 1,
      'aria-label': 'Moment of the cut',
    });
    this.slider.addEventListener('input', () => this.moved(Number(this.slider.value)));
    this.element = el(
      'div',
      { class: 'tape' },
      el('div', { class: 'track' }, this.stretches, this.marks, this.slider),
      this.reading,
    );
  }

  show(
    setup: Setup,
    motions: Motions,
    findings: Finding[],
    colourOf: (tool: number) => string,
    jump: (f: Finding) => void,
  ) {
    this.slider.max = String(setup.time_s);
    // Arrow keys of the slider go by a five-hundredth of the whole; motions are stepped with , and .
    this.slider.step = 'any';
    const parts: HTMLElement[] = [];
    for (let m = 0; m < motions.count; ) {
      let next = m;
      while (next < motions.count && motions.tool[next] === motions.tool[m]) next++;
      const from = m === 0 ? 0 : motions.startS[m],
        to = next < motions.count ? motions.startS[next] : setup.time_s;
      const part = el(
        'div',
        { class: 'stretch', title: `tool ${motions.tool[m]}` },
        `T${motions.tool[m]}`,
      );
      part.style.left = `${(100 * from) / setup.time_s}%`;
      part.style.width = `${(100 * (to - from)) / setup.time_s}%`;
      part.style.setProperty('--tool', colourOf(motions.tool[m]));
      parts.push(part);
      m = next;
    }
    this.stretches.replaceChildren(...parts);
    this.marks.replaceChildren(
      ...findings
        .filter((f) => f.motion >= 0)
        .map((f) => {
          const mark = el('button', {
            type: 'button',
            class: `mark ${f.level}`,
            tabindex: -1,
            'aria-hidden': 'true',
            title: `${f.level}: ${f.text}`,
            click: () => jump(f),
          });
          mark.style.left = `${(100 * motions.startS[f.motion]) / setup.time_s}%`;
          mark.style.setProperty('--level', levelColours[f.level] ?? 'grey');
          return mark;
        }),
    );
  }

  set(time: number, total: number, words: string) {
    this.slider.value = String(time);
    this.slider.setAttribute('aria-valuetext', `${clock(time)} of ${clock(total)}, ${words}`);
    this.reading.textContent = `${clock(time)} of ${clock(total)}`;
  }
}

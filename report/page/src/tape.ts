// The tape: a setup's time from left to right, its tools as runs, its findings as pins, and the
// slider that runs along it.
import type { Finding } from './data.ts';
import { clock, el } from './dom.ts';
import type { SetupScene } from './scene_data.ts';
import { levelColours } from './stage.ts';

export class Tape {
  readonly element: HTMLElement;
  private readonly slider: HTMLInputElement;
  private readonly stretches = el('div', { class: 'stretches', 'aria-hidden': 'true' });
  private readonly marks = el('div', { class: 'marks' });
  private readonly reading = el('span', { class: 'reading' });
  private told = 0; // when the slider's words last changed

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
    { setup, motions, findings }: SetupScene,
    span: number, // s, where it ends; no less than the setup
    colourOf: (tool: number) => string,
    jump: (f: Finding) => void,
  ) {
    this.slider.max = String(span);
    const share = (time: number) => `${(100 * time) / span}%`;
    const parts: HTMLElement[] = [];
    for (let m = 0; m < motions.count;) {
      let next = m;
      while (next < motions.count && motions.tool[next] === motions.tool[m]) next++;
      const from = m === 0 ? 0 : motions.startS[m],
        to = next < motions.count ? motions.startS[next] : setup.time_s;
      const part = el(
        'div',
        { class: 'stretch', title: `tool ${motions.tool[m]}` },
        `T${motions.tool[m]}`,
      );
      part.style.left = share(from);
      part.style.width = share(to - from);
      part.style.setProperty('--tool', colourOf(motions.tool[m]));
      parts.push(part);
      m = next;
    }
    this.stretches.replaceChildren(...parts);
    this.marks.replaceChildren(
      ...findings
        .filter(({ place }) => place.motion >= 0)
        .map(({ finding: f, place }) => {
          const mark = el('button', {
            type: 'button',
            class: `mark ${f.level}`,
            tabindex: -1,
            'aria-hidden': 'true',
            title: `${f.level}: ${f.text}`,
            click: () => jump(f),
          });
          mark.style.left = share(
            motions.startS[place.motion] + place.share * motions.timeS[place.motion],
          );
          mark.style.setProperty('--level', levelColours[f.level] ?? 'grey');
          return mark;
        }),
    );
  }

  // running: a picture follows the other, and what reads the page aloud is told every five seconds.
  set(time: number, total: number, words: string, running: boolean) {
    this.slider.value = String(time);
    const now = performance.now();
    if (!running || now - this.told > 5000) {
      this.told = now;
      this.slider.setAttribute('aria-valuetext', `${clock(time)} of ${clock(total)}, ${words}`);
    }
    this.reading.textContent = `${clock(time)} of ${clock(total)}`;
  }
}

// What of the picture can be chosen: from where it is looked at, colours, path, section plane.
import type { About } from './data.ts';
import { pathColours, surfaceColours, type PathColour, type SurfaceColour } from './colours.ts';
import { button, choice } from './controls.ts';
import { el } from './dom.ts';
import type { SetupScene } from './scene_data.ts';
import { looks, type Look, type PathShown, type Section, type View } from './view.ts';

const axes = { none: null, x: 0, y: 1, z: 2 } as const;

export class Switches {
  readonly element: HTMLElement;
  readonly looks: HTMLElement;
  surfaceBy: SurfaceColour = 'tool';
  pathBy: PathColour = 'engagement_deg';
  private sectionBy: keyof typeof axes = 'none';
  private flip = false;
  private scene: SetupScene | null = null;
  private readonly place = el('output', { class: 'place' });
  private readonly slider = el('input', {
    type: 'range',
    min: 0,
    max: 1,
    step: 0.002,
    value: 0.5,
    'aria-label': 'Place of the section plane',
    input: () => this.applySection(),
  });

  constructor(
    about: About,
    private readonly view: View | null,
    recolour: () => void,
  ) {
    this.looks = el(
      'div',
      { class: 'looks', role: 'group', 'aria-label': 'Look from' },
      ...(Object.keys(looks) as Look[]).map((look) => button(look, () => view?.look(look))),
    );
    this.element = el(
      'div',
      { class: 'switches' },
      choice('Stock coloured by', surfaceColours, this.surfaceBy, (by) => {
        this.surfaceBy = by;
        view?.showDeviation(by === 'deviation', about.deviation_end, about.deviation_grey);
        recolour();
      }),
      choice<PathShown>(
        'Path',
        { none: 'hidden', near: 'near the tool', 'so far': 'so far', all: 'all of it' },
        'near',
        (shown) => view?.showPath(shown),
      ),
      choice('Path coloured by', pathColours, this.pathBy, (by) => {
        this.pathBy = by;
        recolour();
      }),
      choice(
        'Section',
        { none: 'none', x: 'across x', y: 'across y', z: 'across z' },
        this.sectionBy,
        (by) => {
          this.sectionBy = by;
          const axis = axes[by];
          if (axis !== null) this.flip = view?.facing(axis) ?? false;
          this.applySection();
        },
      ),
      this.slider,
      this.place,
      button('Other half', () => {
        this.flip = !this.flip;
        this.applySection();
      }),
    );
  }

  load(scene: SetupScene) {
    this.scene = scene;
    this.applySection();
  }

  private applySection() {
    const axis = axes[this.sectionBy];
    this.slider.disabled = axis === null;
    let section: Section = null,
      words = '';
    if (axis !== null && this.scene) {
      const { low, high } = this.scene;
      const at = low[axis] + Number(this.slider.value) * (high[axis] - low[axis]);
      words = `${this.sectionBy} ${at.toFixed(2)} mm`;
      section = { axis, at, flip: this.flip };
    }
    this.place.textContent = words;
    this.slider.setAttribute('aria-valuetext', words);
    this.view?.setSection(section);
  }
}

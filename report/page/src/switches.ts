// What of the picture can be chosen: from where it is looked at, colours, path, section plane.
import type { About } from './data.ts';
import { pathColours, surfaceColours, type PathColour, type SurfaceColour } from './colours.ts';
import type { Triple } from './data.ts';
import { button, choice } from './controls.ts';
import { el } from './dom.ts';
import type { SetupScene } from './scene_data.ts';
import { looks, onlies, type Look, type Only, type PathShown, type Section, type View } from './view.ts';

const axes = { x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, 1] } satisfies Record<string, Triple>;
const planes = {
  none: 'none',
  x: 'across x',
  y: 'across y',
  z: 'across z',
  eye: 'square to the view',
} as const;

export class Switches {
  readonly element: HTMLElement;
  readonly looks: HTMLElement;
  surfaceBy: SurfaceColour = 'tool';
  pathBy: PathColour = 'engagement_deg';
  private sectionBy: keyof typeof planes = 'none';
  private normal: Triple = [1, 0, 0];
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
    about: About, // with a part: what is left over and what is missing can be shown alone
    private readonly view: View | null,
    recolour: () => void,
  ) {
    this.looks = el(
      'div',
      { class: 'looks', role: 'group', 'aria-label': 'Look from' },
      ...(Object.keys(looks) as Look[]).map((look) => button(look, () => view?.look(look))),
    );
    // What a click tells is held to the same end whatever the colours show.
    if (about.part_field)
      view?.showDeviation(this.surfaceBy === 'deviation', about.deviation_end, about.deviation_grey);
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
      ...(about.tolerance
        ? [
            choice<Only>('Shown', onlies, 'all', (only) =>
              view?.showOnly(only, about.tolerance!.excess, about.tolerance!.gouge),
            ),
          ]
        : []),
      choice('Section', planes, this.sectionBy, (by) => {
        this.sectionBy = by;
        const eye = view?.towardsEye ?? ([0, 0, 1] as Triple);
        if (by !== 'none') {
          // The half towards the eye is opened.
          this.normal = by === 'eye' ? eye : axes[by];
          this.flip = this.normal.reduce((sum, v, k) => sum + v * eye[k], 0) < 0;
        }
        this.applySection();
      }),
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
    const { sectionBy: by, normal, scene } = this;
    this.slider.disabled = by === 'none';
    let section: Section = null,
      words = '';
    if (by !== 'none' && scene) {
      // From the corner of the box that lies least far along the normal to the one that lies furthest.
      const end = (least: boolean) =>
        normal.reduce((sum, v, k) => sum + v * (v > 0 === least ? scene.low : scene.high)[k], 0);
      const at = end(true) + Number(this.slider.value) * (end(false) - end(true));
      words =
        by === 'eye'
          ? `${at.toFixed(2)} mm along ${normal.map((v) => (Math.round(100 * v) / 100 + 0).toFixed(2)).join(', ')}`
          : `${by} ${at.toFixed(2)} mm`;
      section = { normal, at, flip: this.flip };
    }
    this.place.textContent = words;
    this.slider.setAttribute('aria-valuetext', words);
    this.view?.setSection(section);
  }
}

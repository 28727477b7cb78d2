// What of the picture can be chosen: from where it is looked at, colours, path, section plane.
import type { About } from './data.ts';
import { pathColours, surfaceColours, type PathColour, type SurfaceColour } from './colours.ts';
import type { Triple } from './data.ts';
import { button, choice } from './controls.ts';
import { el, figure } from './dom.ts';
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
  surfaceBy: SurfaceColour = 'plain';
  pathBy: PathColour = 'engagement_deg';
  private sectionBy: keyof typeof planes = 'none';
  private normal: Triple = [1, 0, 0];
  private flip = false;
  private scene: SetupScene | null = null;
  private path: PathShown = 'near';
  private only: Only = 'all';
  private readonly partNote = el('output', { class: 'small' }); // of the part's mesh, where it is not its own
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
    private readonly about: About, // with a part: what is left over and what is missing can be shown alone
    private readonly views: () => View[],
    recolour: () => void,
    beside: boolean, // another result stands beside this one
  ) {
    this.looks = el(
      'div',
      { class: 'looks', role: 'group', 'aria-label': 'Look from' },
      ...(Object.keys(looks) as Look[]).map((look) => button(look, () => views()[0]?.look(look))),
    );
    this.element = el(
      'div',
      { class: 'switches' },
      choice(
        'Stock coloured by',
        (Object.entries(surfaceColours) as [SurfaceColour, string][]).filter(
          ([by]) => (by !== 'difference' || beside) && (by !== 'finish' || about.finish_places),
        ),
        this.surfaceBy,
        (by) => {
          this.surfaceBy = by;
          recolour();
        },
      ),
      choice<PathShown>(
        'Path',
        { none: 'hidden', near: 'near the tool', 'so far': 'so far', all: 'all of it' },
        this.path,
        (path) => {
          this.path = path;
          this.apply();
        },
      ),
      choice('Path coloured by', pathColours, this.pathBy, (by) => {
        this.pathBy = by;
        recolour();
      }),
      ...(about.tolerance
        ? [
            choice('Shown', onlies, this.only, (only) => {
              this.only = only;
              this.apply();
            }),
            this.partNote,
          ]
        : []),
      choice('Section', planes, this.sectionBy, (by) => {
        this.sectionBy = by;
        const eye = views()[0]?.towardsEye ?? ([0, 0, 1] as Triple);
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

  get differenceEnd() {
    return this.about.deviation_end || 0.2; // mm
  }
  // All that is chosen, to all pictures.
  apply() {
    const { about, surfaceBy: by, only } = this;
    for (const view of this.views()) {
      view.showPath(this.path);
      view.showFinish(by === 'finish');
      // What a click tells is held to the same end whatever the colours show.
      if (by === 'difference') view.showDeviation(true, this.differenceEnd, 1e6);
      else if (about.part_field)
        view.showDeviation(by === 'deviation', about.deviation_end, about.deviation_grey);
      else view.showDeviation(by === 'deviation', 1, 1);
      if (about.tolerance) view.showOnly(only, about.tolerance.excess, about.tolerance.gouge);
    }
    const within = about.part_mesh?.within ?? 0;
    this.partNote.textContent =
      only === 'part' && within > 0
        ? `The part has more than 100 000 triangles: drawn from distances ${figure(within, 2)} mm apart, its edges rounded by up to that; walls thinner than that may be missing.`
        : '';
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
    for (const view of this.views()) view.setSection(section);
  }
}

// One result in a picture of its own: its motions and scenes, and the moment of a setup at which it stands.
import type { About, Bulk } from './data.ts';
import { colourOfMotion, motionTable, rapidColour, type PathColour, type SurfaceColour } from './colours.ts';
import { el } from './dom.ts';
import { Motions } from './motions.ts';
import { sceneOf, type PartField, type SetupScene } from './scene_data.ts';
import { View } from './view.ts';

const mostColumns = 120000;

export class Side {
  readonly picture = el('div', { class: 'picture' });
  readonly view: View | null = null;
  readonly motions: Motions[];
  readonly scenes: SetupScene[] = [];
  private readonly field: PartField | null;
  index = -1; // of the setup that is shown
  time = 0; // s into it
  motion = -1; // under way, or the last one that has ended; -1: none yet
  share = 0; // of that motion
  waiting = false; // after it

  constructor(
    readonly about: About,
    readonly bulk: Bulk,
  ) {
    this.motions = about.setups.map((setup) => new Motions(setup, bulk));
    const field = about.part_field;
    let values: Float32Array | null = null;
    this.field = field
      ? { ...field, get values() { return (values ??= bulk.floats(field.values)); } } // when they are first asked for
      : null;
    try {
      this.view = new View(this.picture, this.field, bulk, about);
    } catch {
      this.picture.append(
        el(
          'p',
          { class: 'small' },
          'No picture: this browser gives no WebGL 2. Everything else works; see the PNG pictures beside this file.',
        ),
      );
    }
  }

  get setup() {
    return this.about.setups[this.index];
  }
  get moving() {
    return this.motions[this.index];
  }
  get scene() {
    return this.scenes[this.index];
  }

  // later: what is looked ahead at in idle slices is there, so that jumps are quick from now on.
  show(index: number, later: () => void) {
    this.index = index;
    const { about, bulk, field, motions } = this;
    this.scenes[index] ??= sceneOf(about, bulk, index, motions[index], mostColumns, field);
    this.view?.show(this.scene);
    const slice = () => {
      if (this.index !== index) return;
      if (this.scene.columns.lookAhead(9)) later();
      else setTimeout(slice, 6);
    };
    if (this.view) this.view.onceDrawn(() => setTimeout(slice, 300));
    else setTimeout(slice, 300);
  }

  colour(surfaceBy: SurfaceColour, pathBy: PathColour, surfaceEnd: number, pathEnd: number) {
    const { about, motions, view } = this;
    const { data, height } = motionTable(about, motions, surfaceBy, surfaceEnd);
    view?.stock.colourMotions(data, height);
    view?.colourPath(colourOfMotion(about, this.moving, pathBy, pathEnd), rapidColour);
  }

  // Brings the picture towards a moment; false: milliseconds did not do.
  goTo(time: number, milliseconds: number): boolean {
    const { setup, moving, scene } = this;
    const m = moving.indexAt(time),
      atEnd = time >= setup.time_s - 1e-6;
    this.time = Math.min(time, setup.time_s);
    this.motion = m;
    this.share = m >= 0 ? moving.fractionAt(m, time) : 0;
    this.waiting = m >= 0 && time > moving.startS[m] + moving.timeS[m] + 1e-3;
    const { columns, after } = scene;
    const caught =
      (atEnd && after !== null) || columns.goTo(Math.max(0, m), Math.max(0, this.share), milliseconds);
    this.view?.setMoment(caught ? m : columns.now.motion - 1, caught ? this.share : 1, atEnd && caught);
    return caught;
  }
}

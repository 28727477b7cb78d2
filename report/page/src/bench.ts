// The bench: picture, block, slider and strips of one setup at one moment, and what links them.
import type { About, Bulk, Finding, Triple } from './data.ts';
import { Block } from './block.ts';
import {
  colourOfMotion,
  legend,
  motionTable,
  pathColours,
  rapidColour,
  surfaceColours,
} from './colours.ts';
import { button, choice, keyHelp, listenToKeys, tabs } from './controls.ts';
import { el } from './dom.ts';
import { placeWords, readings } from './moment.ts';
import { Motions } from './motions.ts';
import { categoryOf } from './palette.ts';
import { Pointer } from './pointer.ts';
import { sceneOf, type PartField, type SetupScene } from './scene_data.ts';
import { Strips, type Ink } from './strips.ts';
import { Switches } from './switches.ts';
import { Tape } from './tape.ts';
import { View, type Eye } from './view.ts';

const mostColumns = 120000;
const paces = ['1', '10', '30', '120', '600'] as const;

// What a newer page of the same job goes on from.
export interface Kept {
  setup: string;
  time: number | null; // s into the setup; null: its end
  eye: Eye | null;
}

export class Bench {
  readonly motions: Motions[];
  private readonly field: PartField | null;
  private readonly view: View | null = null;
  private readonly tape = new Tape((time) => this.goTime(time));
  private readonly block = new Block((motion) => this.goMotion(this.index, motion, 0.999));
  private readonly strips = new Strips((time) => this.goTime(time));
  private readonly switches: Switches;
  private readonly pointer: Pointer;
  private readonly scenes: SetupScene[] = [];
  private readonly legends = el('div', { class: 'legends' });
  private readonly now = el('div', {});
  private readonly working = el('span', { class: 'working' });
  private readonly runButton = button('Run', () => this.run(!this.running), {
    'aria-pressed': 'false',
    title: 'space',
  });
  private readonly setupTabs;
  private index = -1;
  private time = 0;
  private motion = -1;
  private running = false;
  private pace = 30;
  private finding = -1;
  private queued = false;

  constructor(
    private readonly holder: HTMLElement,
    private readonly about: About,
    private readonly bulk: Bulk,
    private readonly ink: () => Ink,
  ) {
    this.motions = about.setups.map((setup) => new Motions(setup, bulk));
    const field = about.part_field;
    this.field = field ? { ...field, values: bulk.floats(field.values) } : null;
    const picture = el('div', { class: 'picture' });
    try {
      this.view = new View(picture, this.field, bulk);
    } catch {
      picture.append(
        el(
          'p',
          { class: 'small' },
          'No picture: this browser gives no WebGL 2. Everything else works; see the PNG pictures beside this file.',
        ),
      );
    }
    this.switches = new Switches(about, this.view, () => this.colour());
    this.pointer = new Pointer(
      this.view,
      about,
      this.motions,
      this.block,
      () => this.switches.surfaceBy,
      (setup, motion) => this.goMotion(setup, motion, 0.999),
    );
    this.setupTabs = tabs(
      'Setup',
      about.setups.map((s) => `Setup ${s.name}`),
      (i) => this.show(i, null),
    );
    this.lay(picture);
    listenToKeys({
      ' ': () => this.run(!this.running),
      ',': () => this.step(-1),
      '.': () => this.step(1),
      n: () => this.nextFinding(1),
      p: () => this.nextFinding(-1),
    });
  }

  private lay(picture: HTMLElement) {
    const transport = el(
      'div',
      { class: 'transport' },
      this.runButton,
      button('Back one', () => this.step(-1), { title: ',' }),
      button('On one', () => this.step(1), { title: '.' }),
      choice(
        'Pace',
        paces.map((p) => [p, `${p} x`]),
        '30',
        (pace) => {
          this.pace = Number(pace);
        },
      ),
      this.working,
      keyHelp(),
    );
    this.holder.append(
      el('h2', { class: 'unseen' }, 'Replay'),
      el('div', { class: 'bench-head' }, this.setupTabs.element, this.switches.looks),
      el(
        'div',
        { class: 'bench-body' },
        el(
          'div',
          { class: 'stage' },
          picture,
          this.tape.element,
          transport,
          this.legends,
          this.switches.element,
        ),
        el(
          'div',
          { class: 'aside' },
          el('h3', {}, 'At this moment'),
          this.now,
          this.block.element,
          el('h3', {}, 'Under the pointer'),
          this.pointer.element,
        ),
      ),
      el('div', { class: 'along' }, this.strips.element),
    );
  }

  // time null: the end of the setup.
  show(index: number, time: number | null) {
    const setup = this.about.setups[index],
      motions = this.motions[index];
    if (index !== this.index) {
      this.index = index;
      this.scenes[index] ??= sceneOf(
        this.about,
        this.bulk,
        index,
        motions,
        mostColumns,
        this.field,
      );
      const scene = this.scenes[index];
      this.setupTabs.mark(index);
      this.block.load(setup, motions, this.bulk);
      this.view?.show(scene);
      this.tape.show(
        scene,
        (tool) => categoryOf(this.about.tools.findIndex((t) => t.number === tool)),
        (f) => this.jump(f),
      );
      this.strips.show(motions, setup.time_s, this.ink());
      this.pointer.load(index);
      this.colour();
      this.switches.load(scene);
      this.scout(index);
    }
    this.goTime(time ?? setup.time_s);
  }

  get kept(): Kept {
    const setup = this.about.setups[this.index];
    const atEnd = this.time >= setup.time_s - 1e-6;
    return { setup: setup.name, time: atEnd ? null : this.time, eye: this.view?.eye ?? null };
  }
  // False: there is no such setup any more.
  restore(kept: Kept): boolean {
    const index = this.about.setups.findIndex((s) => s.name === kept.setup);
    if (index < 0) return false;
    this.show(index, kept.time);
    if (this.view && kept.eye) this.view.eye = kept.eye;
    return true;
  }

  retheme(background: string, cutFace: string) {
    this.view?.setTheme(background, cutFace);
    if (this.index < 0) return;
    this.strips.show(this.motions[this.index], this.about.setups[this.index].time_s, this.ink());
    this.goTime(this.time);
  }

  private colour() {
    const { about, motions, index, switches } = this;
    const { data, height } = motionTable(about, motions, switches.surfaceBy);
    this.view?.stock.colourMotions(data, height);
    this.view?.colourPath(colourOfMotion(about, motions, index, switches.pathBy), rapidColour);
    this.legends.replaceChildren(
      legend(
        about,
        motions,
        index,
        switches.surfaceBy,
        `Stock: ${surfaceColours[switches.surfaceBy]}`,
      ),
      legend(
        about,
        motions,
        index,
        switches.pathBy,
        `Path: ${pathColours[switches.pathBy]}; rapids grey`,
      ),
    );
  }

  // Looks ahead in idle slices, so that later jumps of the slider are quick.
  private scout(index: number) {
    const slice = () => {
      if (this.index !== index) return;
      if (this.scenes[index].columns.lookAhead(9)) this.refresh();
      else setTimeout(slice, 6);
    };
    setTimeout(slice, 300);
  }

  goTime(time: number) {
    this.time = Math.max(0, Math.min(this.about.setups[this.index].time_s, time));
    this.told = null;
    this.refresh();
  }
  goMotion(setup: number, motion: number, share: number) {
    const motions = this.motions[setup];
    this.show(setup, motions.startS[motion] + motions.timeS[motion] * share);
  }
  // The motion of a tool on a line that bears the largest force: what the tables name.
  goLine(setup: number, tool: number, line: number) {
    const motions = this.motions[setup],
      force = motions.of('force_n');
    let best = -1;
    for (let m = 0; m < motions.count; m++)
      if (motions.line[m] === line && motions.tool[m] === tool)
        if (best < 0 || force[m] > force[best]) best = m;
    if (best >= 0) this.goMotion(setup, best, 0.999);
  }
  private step(by: number) {
    const motion = Math.max(0, Math.min(this.motions[this.index].count - 1, this.motion + by));
    this.goMotion(this.index, motion, 0.999);
  }

  // To the moment at which the finding's motion comes nearest to its place, and the eye to the place.
  jump(finding: Finding) {
    this.finding = this.about.findings.indexOf(finding);
    if (finding.setup < 0) return;
    this.show(finding.setup, null);
    const { place } = this.scenes[finding.setup].findings.find((f) => f.finding === finding)!;
    if (place.motion >= 0) this.goMotion(finding.setup, place.motion, Math.min(place.share, 0.999));
    this.told = place.file >= 0 && finding.line > 0 ? [place.file, finding.line] : null;
    this.view?.mark(place.at ? [place.at] : []);
    if (place.at) this.flyTo = place.at;
    const where = finding.file ? `${finding.file} line ${finding.line}, ` : '';
    this.pointer.say(
      el('p', {}, el('b', {}, `${finding.level}: `), finding.text),
      el(
        'p',
        { class: 'small' },
        where + (place.at ? `at ${placeWords(place.at)}` : 'it has no place on the work'),
      ),
    );
  }
  private told: [number, number] | null = null; // file and line of a finding that was jumped to
  private flyTo: Triple | null = null; // once the moment is drawn

  private nextFinding(by: number) {
    const all = this.about.findings.filter((f) => f.setup >= 0);
    const at = all.indexOf(this.about.findings[this.finding]);
    if (all.length) this.jump(all[(at + by + all.length) % all.length]);
  }

  private run(on: boolean) {
    this.running = on;
    this.runButton.textContent = on ? 'Hold' : 'Run';
    this.runButton.setAttribute('aria-pressed', String(on));
    const total = this.about.setups[this.index].time_s;
    if (on && this.time >= total - 1e-6) this.time = 0;
    let last = performance.now();
    const frame = (now: number) => {
      if (!this.running) return;
      this.goTime(this.time + ((now - last) / 1000) * this.pace);
      last = now;
      if (this.time >= this.about.setups[this.index].time_s) this.run(false);
      else requestAnimationFrame(frame);
    };
    if (on) requestAnimationFrame(frame);
    else this.refresh();
  }

  private refresh() {
    if (this.queued) return;
    this.queued = true;
    this.holder.setAttribute('aria-busy', 'true');
    requestAnimationFrame(() => {
      this.queued = false;
      this.paint();
    });
  }

  private paint() {
    const setup = this.about.setups[this.index],
      motions = this.motions[this.index],
      scene = this.scenes[this.index];
    const m = motions.indexAt(this.time),
      share = m >= 0 ? motions.fractionAt(m, this.time) : 0;
    const atEnd = this.time >= setup.time_s - 1e-6;
    this.motion = m;
    const caught =
      (atEnd && scene.after !== null) || scene.columns.goTo(Math.max(0, m), Math.max(0, share), 14);
    this.working.textContent = caught ? '' : 'working out this moment...';
    this.view?.setMoment(
      caught ? m : scene.columns.now.motion - 1,
      caught ? share : 1,
      atEnd && caught,
    );
    const waiting = m >= 0 && this.time > motions.startS[m] + motions.timeS[m] + 1e-3;
    this.strips.set(this.time, m, waiting);
    this.tape.set(
      this.time,
      setup.time_s,
      m >= 0 ? `tool ${motions.tool[m]}, line ${motions.line[m]}` : 'before the first motion',
      this.running,
    );
    if (this.told) this.block.show(...this.told);
    else this.block.show(m >= 0 ? motions.file[m] : 0, m >= 0 ? motions.line[m] : 0);
    this.now.replaceChildren(readings(this.about, motions, m, share, waiting));
    if (!caught) return this.refresh();
    if (this.flyTo) this.view?.fly(this.flyTo);
    this.flyTo = null;
    this.holder.setAttribute('aria-busy', 'false');
  }

  // For tests and the curious: pixels of a point, in CSS pixels from the picture's corner.
  project(at: Triple) {
    return this.view?.project(at) ?? null;
  }
}

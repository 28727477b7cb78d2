// The bench: picture, block, slider and strips of one setup at one moment, and what links them.
import type { About, Bulk, Finding, Triple } from './data.ts';
import { Beside } from './beside.ts';
import { Block } from './block.ts';
import { legend, pathColours, scaleEnd, surfaceColours } from './colours.ts';
import { button, choice, keyHelp, listenToKeys, tabs } from './controls.ts';
import { el, shown } from './dom.ts';
import { placeWords, readings } from './moment.ts';
import { categoryOf } from './palette.ts';
import { Pointer } from './pointer.ts';
import { Side } from './side.ts';
import { Strips, type Ink } from './strips.ts';
import { Switches } from './switches.ts';
import { Tape } from './tape.ts';
import type { Eye } from './view.ts';

const paces = ['1', '10', '30', '120', '600'] as const;

// What a newer page of the same job goes on from.
export interface Kept {
  setup: string;
  time: number | null; // s into the setup; null: its end
  eye: Eye | null;
}

export class Bench {
  readonly main: Side;
  readonly beside: Beside | null = null;
  private readonly tape = new Tape((time) => this.goTime(time));
  private readonly block = new Block((motion) => this.goMotion(this.index, motion, 0.999));
  private readonly strips = new Strips((time) => this.goTime(time));
  private readonly switches: Switches;
  private readonly pointer: Pointer;
  private readonly caption = el('figcaption', {});
  private readonly legends = el('div', { class: 'legends' });
  private readonly now = el('div', {});
  private readonly working = el('span', { class: 'working' });
  private readonly runButton = button('Run', () => this.run(!this.running), {
    'aria-pressed': 'false',
    title: 'space',
  });
  private readonly setupTabs;
  private time = 0; // on the slider
  private running = false;
  private pace = 30;
  private finding = -1;
  private queued = false;
  private saidAt = 0; // by performance.now()
  private slice = 14; // ms of working out a frame; more the longer a moment takes, for every frame is drawn too

  constructor(
    private readonly holder: HTMLElement,
    private readonly about: About,
    private readonly bulk: Bulk,
    private readonly ink: () => Ink,
  ) {
    this.main = new Side(about, bulk);
    const others = about.others ?? [];
    if (others.some((o) => !o.missing))
      this.beside = new Beside(this.main, others, () => this.besideChanged());
    this.switches = new Switches(about, () => this.sides.flatMap((s) => s.view ?? []), () => this.colour(), this.beside !== null);
    this.pointer = new Pointer(
      this.main,
      this.block,
      () => this.switches.surfaceBy,
      (setup, motion) => this.goMotion(setup, motion, 0.999),
    );
    this.setupTabs = tabs(
      'Setup',
      about.setups.map((s) => `Setup ${s.name}`),
      (i) => this.show(i, null),
    );
    this.lay();
    listenToKeys({
      ' ': () => this.run(!this.running),
      ',': () => this.step(-1),
      '.': () => this.step(1),
      n: () => this.nextFinding(1),
      p: () => this.nextFinding(-1),
    });
  }

  private get sides(): Side[] {
    return [this.main, this.beside?.shown ?? []].flat();
  }
  // What tests and the curious ask for.
  get motions() {
    return this.main.motions;
  }
  get scenes() {
    return this.main.scenes;
  }
  get view() {
    return this.main.view;
  }
  get index() {
    return this.main.index;
  }
  private get motion() {
    return this.main.motion;
  }
  // Where the slider ends, s.
  private get span() {
    return this.beside?.span ?? this.main.setup.time_s;
  }

  private lay() {
    const { main, beside } = this;
    const pictures = el(
      'div',
      { class: 'pictures' },
      beside ? el('figure', { class: 'one' }, main.picture, this.caption) : main.picture,
      beside?.element,
    );
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
      ...(this.about.others ?? []).flatMap(({ name, missing }) =>
        missing ? el('p', { class: 'small' }, `No picture of ${name}: ${missing}.`) : [],
      ),
      el('div', { class: 'bench-head' }, this.setupTabs.element, beside?.controls, this.switches.looks),
      el(
        'div',
        { class: 'bench-body' },
        el(
          'div',
          { class: 'stage' },
          pictures,
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
    const { main } = this;
    if (index !== this.index) {
      main.show(index, () => this.refresh());
      this.setupTabs.mark(index);
      this.block.load(main.setup, main.moving, this.bulk);
      this.pointer.load(index);
      this.besideChanged();
    }
    this.goTime(time ?? this.span);
  }

  // What depends on both results: another setup, another one beside this one, or another pairing.
  private besideChanged() {
    const { main, beside } = this;
    if (main.index < 0) return;
    const other = beside?.show(() => this.refresh()) ?? null;
    if (other) beside!.element.append(this.pointerOf(other).element);
    if (other?.view && main.view) {
      const [a, b] = [main.view, other.view];
      a.moved = () => b.follow(a);
      b.moved = () => a.follow(b);
      b.follow(a);
    } else if (main.view) main.view.moved = () => undefined;
    this.tape.show(
      main.scene,
      this.span,
      (tool) => categoryOf(this.about.tools.findIndex((t) => t.number === tool)),
      (f) => this.jump(f),
    );
    this.showStrips();
    this.switches.load(main.scene);
    this.colour();
    this.goTime(this.time);
  }

  private readonly pointers = new Map<Side, Pointer>();
  private pointerOf(side: Side): Pointer {
    let pointer = this.pointers.get(side);
    if (!pointer)
      pointer = new Pointer(side, null, () => this.switches.surfaceBy, (setup, motion) => {
        const at = side.motions[setup].momentOf(motion, 0.999);
        const own = this.about.setups.findIndex((_, s) => this.beside!.partnerOf(s) === setup);
        if (own < 0) return;
        this.show(own, null);
        this.goTime(this.beside!.fromOther(at));
      });
    this.pointers.set(side, pointer);
    if (pointer.setup !== side.index) pointer.load(side.index);
    return pointer;
  }

  private showStrips() {
    const { main, beside } = this;
    const other = beside?.shown;
    this.strips.show(
      main.moving,
      main.setup.time_s,
      this.ink(),
      other && {
        name: beside!.name,
        motions: other.moving,
        total: other.setup.time_s,
        onSlider: (time) => beside!.fromOther(time),
      },
    );
  }

  get kept(): Kept {
    const atEnd = this.time >= this.span - 1e-6;
    return { setup: this.main.setup.name, time: atEnd ? null : this.time, eye: this.view?.eye ?? null };
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
    this.theme = [background, cutFace];
    for (const side of this.sides) side.view?.setTheme(...this.theme);
    if (this.index < 0) return;
    this.showStrips();
    this.goTime(this.time);
  }

  private theme: [string, string] = ['#888888', '#888888'];
  private colour() {
    const { main, beside, sides, switches } = this;
    const { surfaceBy, pathBy } = switches;
    const all = sides.flatMap((s) => s.motions),
      now = sides.map((s) => s.moving);
    const ends = [surfaceBy, pathBy].map((by) => scaleEnd(all, now, by));
    if (surfaceBy === 'difference') void beside?.workOut();
    const known = beside?.difference;
    sides.forEach((side, i) => {
      side.view?.setTheme(...this.theme);
      side.colour(surfaceBy, pathBy, ends[0], ends[1]);
      side.view?.stock.measureFrom(surfaceBy === 'difference' ? (known?.[i] ?? null) : 'part');
    });
    switches.apply();
    if (surfaceBy === 'difference') ends[0] = switches.differenceEnd;
    const legendsOf = (side: Side, whose: string) => [
      legend(side.about, side.moving, surfaceBy, ends[0], `Stock${whose}: ${surfaceColours[surfaceBy]}`),
      legend(side.about, side.moving, pathBy, ends[1], `Path${whose}: ${pathColours[pathBy]}; rapids grey`),
    ];
    const own = legendsOf(main, '');
    // Each has its own tools.
    const others = sides.slice(1).flatMap((side) => {
      const [stock, path] = legendsOf(side, ` of ${beside!.name}`);
      return [surfaceBy === 'tool' && stock, pathBy === 'tool' && path];
    });
    const [a, b] = sides.map((s) => s.about.stock_size.join(' x '));
    const note =
      surfaceBy === 'difference' &&
      (beside?.unknown
        ? `not known: ${beside.unknown}; hatched`
        : b && a !== b && `the blanks differ, ${a} and ${b} mm: their lowest corners are laid on each other`);
    this.legends.replaceChildren(
      ...[...own, ...others, note && el('span', {}, note)].flatMap((part) => part || []),
    );
    this.refresh();
  }

  goTime(time: number) {
    this.time = Math.max(0, Math.min(this.span, time));
    this.told = null;
    this.refresh();
  }
  goMotion(setup: number, motion: number, share: number) {
    this.show(setup, this.motions[setup].momentOf(motion, share));
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
    if (on && this.time >= this.span - 1e-6) this.time = 0;
    let last = performance.now();
    const frame = (now: number) => {
      if (!this.running) return;
      this.goTime(this.time + ((now - last) / 1000) * this.pace);
      last = now;
      if (this.time >= this.span) this.run(false);
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
    const { main, beside, time } = this,
      motions = main.moving,
      other = beside?.shown;
    let caught = main.goTo(time, this.slice);
    if (other) caught = other.goTo(beside!.timeOf(time), this.slice) && caught;
    this.slice = caught ? 14 : Math.min(120, 2 * this.slice);
    const { motion: m, share, waiting } = main;
    this.working.textContent = !caught
      ? 'working out this moment...'
      : this.switches.surfaceBy === 'difference' && beside?.working
        ? 'working out in what they differ...'
        : '';
    this.tape.set(
      time,
      this.span,
      m >= 0 ? `tool ${motions.tool[m]}, line ${motions.line[m]}` : 'before the first motion',
      this.running,
    );
    if (beside) {
      const known = this.switches.surfaceBy === 'difference' ? beside.difference : null;
      this.caption.textContent = shown(beside.words(main, this.about.title, known?.[0] ?? null));
      if (other)
        beside.caption.textContent = shown(beside.words(other, beside.name, known?.[1] ?? null));
    }
    // While it runs, figures stand long enough to be read; the picture has the time.
    if (!this.running || performance.now() - this.saidAt > 150) {
      this.saidAt = performance.now();
      this.strips.set(time, main, other ?? null);
      if (this.told) this.block.show(...this.told);
      else this.block.show(m >= 0 ? motions.file[m] : 0, m >= 0 ? motions.line[m] : 0);
      this.now.replaceChildren(readings(this.about, motions, m, share, waiting));
    }
    if (!caught) return this.refresh();
    if (this.flyTo) this.view?.fly(this.flyTo);
    this.flyTo = null;
    this.holder.setAttribute('aria-busy', String(this.working.textContent !== ''));
  }

  // For tests and the curious: pixels of a point, in CSS pixels from the picture's corner.
  project(at: Triple) {
    return this.view?.project(at) ?? null;
  }
}

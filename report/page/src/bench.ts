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
  type PathColour,
  type SurfaceColour,
} from './colours.ts';
import { button, choice, keyHelp, tabs } from './controls.ts';
import { clock, el, figure } from './dom.ts';
import { Kind, measures, type Measure, type Motions } from './motions.ts';
import { categoryOf } from './palette.ts';
import type { Hit } from './pick.ts';
import { sceneOf } from './scene_data.ts';
import { Strips, type Ink } from './strips.ts';
import { Tape } from './tape.ts';
import { View, type PathShown, type Section, type SetupScene } from './view.ts';

const mostColumns = 120000;
// By Motions.sense.
const senses = ['-', 'climb', 'conventional', 'climb and conventional'];

export class Bench {
  private readonly view: View | null;
  private readonly tape = new Tape((time) => this.goTime(time));
  private readonly block = new Block((motion) => this.goMotion(this.index, motion, true), 5, 7);
  private readonly strips = new Strips((time) => this.goTime(time));
  private readonly scenes: SetupScene[] = [];
  private readonly picture = el('div', { class: 'picture' });
  private readonly legends = el('div', { class: 'legends' });
  private readonly readings = el('dl', { class: 'readings' });
  private readonly picked = el('div', { class: 'picked', role: 'status', 'aria-live': 'polite' });
  private readonly working = el('span', { class: 'working', role: 'status' });
  private readonly runButton = button('Run', () => this.run(!this.running), {
    'aria-pressed': 'false',
    title: 'space',
  });
  private readonly sectionAt = el('input', {
    type: 'range',
    min: 0,
    max: 1,
    step: 0.002,
    value: 0.5,
    'aria-label': 'Place of the section plane',
    input: () => this.applySection(),
  });
  private readonly setupTabs;
  private index = -1;
  private time = 0;
  private motion = -1;
  private surfaceBy: SurfaceColour = 'tool';
  private pathBy: PathColour = 'engagement_deg';
  private sectionBy: 'none' | 'x' | 'y' | 'z' = 'none';
  private sectionFlip = false;
  private running = false;
  private pace = 30;
  private finding = -1;

  constructor(
    private readonly holder: HTMLElement,
    private readonly about: About,
    private readonly bulk: Bulk,
    private readonly motions: Motions[],
    private ink: () => Ink,
  ) {
    let view: View | null = null;
    try {
      view = new View(this.picture);
    } catch {
      this.picture.append(
        el(
          'p',
          { class: 'small' },
          'No picture: this browser gives no WebGL 2. Everything else works; see the PNG pictures beside this file.',
        ),
      );
    }
    this.view = view;
    this.setupTabs = tabs(
      'Setup',
      about.setups.map((s) => `Setup ${s.name}`),
      (i) => this.show(i, null),
    );
    this.lay(holder);
    this.listen();
  }

  private lay(holder: HTMLElement) {
    const surface = Object.entries(surfaceColours).filter(
      ([key]) => key !== 'deviation' || this.about.setups.some((s) => s.after?.deviation),
    ) as [SurfaceColour, string][];
    const looks = el(
      'div',
      { class: 'looks', role: 'group', 'aria-label': 'Look from' },
      ...(['all around', 'top', 'front', 'left', 'below'] as const).map((look) =>
        button(look, () => this.view?.look(look)),
      ),
    );
    const switches = el(
      'div',
      { class: 'switches' },
      choice<SurfaceColour>('Stock coloured by', surface, this.surfaceBy, (by) => {
        this.surfaceBy = by;
        this.colour();
      }),
      choice<PathShown>(
        'Path',
        { none: 'hidden', near: 'near the tool', 'so far': 'so far', all: 'all of it' },
        'near',
        (shown) => this.view?.showPath(shown),
      ),
      choice<PathColour>('Path coloured by', pathColours, this.pathBy, (by) => {
        this.pathBy = by;
        this.colour();
      }),
      choice(
        'Section',
        { none: 'none', x: 'across x', y: 'across y', z: 'across z' },
        this.sectionBy,
        (by) => {
          this.sectionBy = by;
          this.applySection();
        },
      ),
      this.sectionAt,
      button('Other half', () => {
        this.sectionFlip = !this.sectionFlip;
        this.applySection();
      }),
    );
    const paces = choice(
      'Pace',
      [
        ['1', '1 x'],
        ['10', '10 x'],
        ['30', '30 x'],
        ['120', '120 x'],
        ['600', '600 x'],
      ],
      '30',
      (pace) => {
        this.pace = Number(pace);
      },
    );
    const transport = el(
      'div',
      { class: 'transport' },
      this.runButton,
      button('Back one', () => this.step(-1), { title: ',' }),
      button('On one', () => this.step(1), { title: '.' }),
      paces,
      this.working,
      keyHelp(),
    );
    holder.append(
      el('div', { class: 'bench-head' }, this.setupTabs.element, looks),
      el(
        'div',
        { class: 'bench-body' },
        el('div', { class: 'stage' }, this.picture, this.legends, switches),
        el(
          'div',
          { class: 'aside' },
          el('h3', {}, 'At this moment'),
          this.readings,
          this.block.element,
          el('h3', {}, 'Under the pointer'),
          this.picked,
        ),
      ),
      el('div', { class: 'along' }, transport, this.tape.element, this.strips.element),
    );
    this.picked.append(
      el(
        'p',
        { class: 'small' },
        'Click on the stock: the motion that made that spot is named here.',
      ),
    );
    if (this.view) {
      const canvas = this.view.canvas;
      canvas.tabIndex = 0;
      canvas.setAttribute('role', 'img');
      canvas.setAttribute('aria-label', 'Picture of the stock; arrow keys turn it');
    }
  }

  private listen() {
    const canvas = this.view?.canvas;
    let down: [number, number] | null = null;
    canvas?.addEventListener('pointerdown', (e) => {
      down = [e.clientX, e.clientY];
    });
    canvas?.addEventListener('pointerup', (e) => {
      if (down && Math.hypot(e.clientX - down[0], e.clientY - down[1]) < 4) {
        const box = canvas.getBoundingClientRect();
        this.pick(e.clientX - box.left, e.clientY - box.top);
      }
      down = null;
    });
    canvas?.addEventListener('keydown', (e) => {
      const turns: Record<string, [number, number, number]> = {
        ArrowLeft: [-8, 0, 1],
        ArrowRight: [8, 0, 1],
        ArrowUp: [0, 8, 1],
        ArrowDown: [0, -8, 1],
        '+': [0, 0, 0.87],
        '=': [0, 0, 0.87],
        '-': [0, 0, 1.15],
      };
      if (e.key === 'Enter') this.pick(canvas.clientWidth / 2, canvas.clientHeight / 2);
      else if (turns[e.key]) this.view!.turn(...turns[e.key]);
      else return;
      e.preventDefault();
    });
    document.addEventListener('keydown', (e) => {
      const target = e.target as HTMLElement;
      const typing =
        /^(SELECT|TEXTAREA)$/.test(target.tagName) ||
        (target.tagName === 'INPUT' && (target as HTMLInputElement).type !== 'range');
      if (typing || e.ctrlKey || e.metaKey || e.altKey) return;
      if (e.key === ' ' && !/^(BUTTON|SUMMARY|A)$/.test(target.tagName)) this.run(!this.running);
      else if (e.key === ',') this.step(-1);
      else if (e.key === '.') this.step(1);
      else if (e.key === 'n' || e.key === 'p') this.nextFinding(e.key === 'n' ? 1 : -1);
      else return;
      e.preventDefault();
    });
  }

  // time null: the end of the setup.
  show(index: number, time: number | null) {
    const setup = this.about.setups[index];
    if (index !== this.index) {
      this.index = index;
      this.scenes[index] ??= sceneOf(
        this.about,
        this.bulk,
        index,
        this.motions[index],
        mostColumns,
      );
      this.setupTabs.mark(index);
      this.block.load(setup, this.motions[index], this.bulk);
      this.view?.show(this.scenes[index]);
      this.tape.show(
        setup,
        this.motions[index],
        this.about.findings.filter((f) => f.setup === index),
        (tool) => this.colourOfTool(tool),
        (f) => this.jump(f),
      );
      this.strips.show(this.motions[index], setup.time_s, this.ink());
      this.colour();
      this.applySection();
      this.scout(index);
    }
    this.goTime(time ?? setup.time_s);
  }

  retheme(background: string, cutFace: string) {
    this.view?.setTheme(background, cutFace);
    if (this.index >= 0) {
      this.strips.show(this.motions[this.index], this.about.setups[this.index].time_s, this.ink());
      this.goTime(this.time);
    }
  }

  private colourOfTool(number: number) {
    return categoryOf(this.about.tools.findIndex((t) => t.number === number));
  }

  private colour() {
    const { data, height } = motionTable(this.about, this.motions, this.surfaceBy);
    this.view?.colourMotions(data, height);
    const { deviation_end: end, deviation_grey: grey } = this.about;
    this.view?.showDeviation(this.surfaceBy === 'deviation', end, grey);
    this.view?.colourPath(
      colourOfMotion(this.about, this.motions, this.index, this.pathBy),
      rapidColour,
    );
    this.legends.replaceChildren(
      legend(
        this.about,
        this.motions,
        this.index,
        this.surfaceBy,
        `Stock: ${surfaceColours[this.surfaceBy]}`,
      ),
      legend(
        this.about,
        this.motions,
        this.index,
        this.pathBy,
        `Path: ${pathColours[this.pathBy]}; rapids grey`,
      ),
    );
  }

  private applySection() {
    const scene = this.scenes[this.index];
    const axes = { none: -1, x: 0, y: 1, z: 2 } as const,
      axis = axes[this.sectionBy];
    this.sectionAt.disabled = axis === -1;
    let section: Section = null;
    if (axis !== -1) {
      const share = Number(this.sectionAt.value),
        at = scene.low[axis] + share * (scene.high[axis] - scene.low[axis]);
      this.sectionAt.setAttribute('aria-valuetext', `${this.sectionBy} ${at.toFixed(1)} mm`);
      section = { axis, at, flip: this.sectionFlip };
    }
    this.view?.setSection(section);
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
    this.refresh();
  }
  goMotion(setup: number, motion: number, atEnd: boolean) {
    const motions = this.motions[setup];
    this.show(setup, motions.startS[motion] + motions.timeS[motion] * (atEnd ? 0.999 : 0.5));
  }
  private step(by: number) {
    const motions = this.motions[this.index];
    const motion = Math.max(0, Math.min(motions.count - 1, this.motion + by));
    this.goMotion(this.index, motion, true);
  }
  jump(finding: Finding) {
    this.finding = this.about.findings.indexOf(finding);
    if (finding.setup < 0) return;
    const motion = finding.motion;
    if (motion >= 0) this.goMotion(finding.setup, motion, true);
    else this.show(finding.setup, null);
    this.say(
      el('p', {}, el('b', {}, `${finding.level}: `), finding.text),
      el(
        'p',
        { class: 'small' },
        `${finding.file ? `${finding.file} line ${finding.line}, ` : ''}at ${this.placeWords(finding.at)}`,
      ),
    );
  }
  private nextFinding(by: number) {
    const all = this.about.findings.filter((f) => f.setup >= 0);
    if (!all.length) return;
    const at = all.indexOf(this.about.findings[this.finding]);
    this.jump(all[(at + by + all.length) % all.length]);
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
  }

  private queued = false;
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
    let caught = true;
    if (!(atEnd && scene.after))
      caught = scene.columns.goTo(Math.max(0, m), m >= 0 ? share : 0, 14);
    this.working.textContent = caught ? '' : 'working out this moment...';
    this.view?.setMoment(
      caught ? m : scene.columns.now.motion - 1,
      caught ? share : 1,
      atEnd && caught,
    );
    if (!caught) this.refresh();
    const waiting = m >= 0 && this.time > motions.startS[m] + motions.timeS[m] + 1e-3;
    this.strips.set(this.time, m, waiting);
    this.tape.set(
      this.time,
      setup.time_s,
      m >= 0 ? `tool ${motions.tool[m]}, line ${motions.line[m]}` : 'before the first motion',
    );
    if (m >= 0) this.block.show(motions.file[m], motions.line[m]);
    this.read(m, share, waiting);
    if (caught) this.holder.setAttribute('aria-busy', 'false');
  }

  private placeWords(p: Triple) {
    return `X${p[0].toFixed(3)} Y${p[1].toFixed(3)} Z${p[2].toFixed(3)}`;
  }

  private read(m: number, share: number, waiting: boolean) {
    const motions = this.motions[this.index];
    if (m < 0) {
      this.readings.replaceChildren(el('dt', {}, 'motion'), el('dd', {}, 'before the first'));
      return;
    }
    const kinds = ['rapid', 'line', 'arc'];
    const tool = this.about.tools.find((t) => t.number === motions.tool[m]);
    const value = (measure: Measure) =>
      `${figure(motions.of(measure)[m])} ${measures[measure].unit}`;
    const rows: [string, string][] = [
      [
        'motion',
        `${m + 1} of ${motions.count}, ${waiting ? 'waiting after it' : kinds[motions.kind[m]]}`,
      ],
      ['tool', `T${motions.tool[m]}${tool ? ` ${tool.name}` : ''}`],
      ['tip at', this.placeWords(motions.at(m, share))],
      [
        'feed',
        motions.kind[m] === Kind.rapid
          ? 'rapid'
          : `${figure(motions.feed[m], 4)} asked, ${value('speed')} on the mean`,
      ],
      ['spindle', motions.rpm[m] > 0 ? `${figure(motions.rpm[m], 5)} 1/min` : 'stopped'],
      ['depth, width', `${figure(motions.axialDepth[m])} mm, ${figure(motions.radialWidth[m])} mm`],
      ['engagement', value('engagement_deg')],
      ['teeth', senses[motions.sense[m]]],
      ['chip', value('chip_mm')],
      ['force', value('force_n')],
      ['power', value('power_w')],
      ['bend', value('bend_mm')],
    ];
    this.readings.replaceChildren(
      ...rows.flatMap(([label, words]) => [el('dt', {}, label), el('dd', {}, words)]),
    );
  }

  private say(...parts: HTMLElement[]) {
    this.picked.replaceChildren(...parts);
  }

  private pick(x: number, y: number) {
    const hit = this.view?.pick(x, y) ?? null;
    if (!hit) return this.say(el('p', { class: 'small' }, 'Nothing there.'));
    if (hit.inside)
      return this.say(
        el('p', {}, 'Inside of the material, opened by the section plane'),
        el('p', { class: 'small' }, this.placeWords(hit.at)),
      );
    const owner = this.motions.findIndex(
      (m) => hit.id >= m.firstId && hit.id < m.firstId + m.count,
    );
    if (owner < 0)
      return this.say(
        el('p', {}, "The blank's own surface, not cut"),
        el('p', { class: 'small' }, this.placeWords(hit.at)),
      );
    this.nameMotion(owner, hit.id - this.motions[owner].firstId, hit);
  }

  private nameMotion(owner: number, m: number, hit: Hit) {
    const motions = this.motions[owner],
      setup = this.about.setups[owner];
    const tool = this.about.tools.find((t) => t.number === motions.tool[m]);
    const by: Measure = this.surfaceBy in measures ? (this.surfaceBy as Measure) : 'force_n';
    const file = setup.files[motions.file[m]]?.name ?? setup.program;
    const text = owner === this.index ? this.block.text(motions.file[m], motions.line[m]) : '';
    if (owner === this.index) this.block.show(motions.file[m], motions.line[m]);
    this.say(
      el('p', {}, el('b', {}, `T${motions.tool[m]} ${tool?.name ?? ''}`), `, setup ${setup.name}`),
      el(
        'p',
        {},
        `${file} line `,
        el('b', { 'data-line': motions.line[m] }, motions.line[m]),
        text && ': ',
        text && el('code', {}, text),
      ),
      el(
        'p',
        {},
        `${measures[by].label} ${figure(motions.of(by)[m])} ${measures[by].unit}`,
        hit.deviation === null
          ? null
          : `, ${figure(Math.abs(hit.deviation))} mm ${hit.deviation < 0 ? 'cut into the part' : 'left on the part'}`,
      ),
      el(
        'p',
        { class: 'small' },
        `${this.placeWords(hit.at)}, made at ${clock(motions.startS[m])}`,
      ),
      button('Show the moment it was made', () => this.goMotion(owner, m, true)),
    );
  }

  // For tests and the curious: pixels of a point, in CSS pixels from the picture's corner.
  project(at: Triple) {
    return this.view?.project(at) ?? null;
  }
}

// The 3-D picture of one setup: the stock, path and tool over it, and where it is looked at from.
// Everything is in the setup's frame, z up, as the work lies on the machine.
import {
  AmbientLight,
  Color,
  ColorManagement,
  DirectionalLight,
  Group,
  LinearSRGBColorSpace,
  PerspectiveCamera,
  Points,
  Raycaster,
  RGBAIntegerFormat,
  Scene,
  UnsignedIntType,
  Vector3,
  WebGLRenderer,
  WebGLRenderTarget,
} from 'three';
import { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js';
import type { About, Bulk, Triple } from './data.ts';
import { shown } from './dom.ts';
import { FinishMarks } from './finish.ts';
import { Painter } from './painter.ts';
import { rgb, type Rgb } from './palette.ts';
import type { PartField, SetupScene } from './scene_data.ts';
import { colourFixtures, fixtures, holderColour, partGhost, Path, pins, release, rings, sizeLetters, toolBody, touching, zeroMark } from './stage.ts';
import { StockMesh } from './stock_mesh.ts';

export type PathShown = 'none' | 'near' | 'so far' | 'all';
// normal: of length 1; at: mm along it; flip: what lies before the plane is kept.
export type Section = { normal: Triple; at: number; flip: boolean } | null;
export const onlies = {
  all: 'all of it',
  left: 'only what is left',
  into: 'only what is missing',
  part: 'the part over it, seen through',
} as const;
export type Only = keyof typeof onlies;
export const looks = {
  'all around': [-0.45, -0.95, 0.85],
  top: [0, -0.001, 1],
  front: [0, -1, 0],
  back: [0, 1, 0],
  left: [-1, 0, 0],
  right: [1, 0, 0],
  below: [-0.45, -0.95, -0.85],
} satisfies Record<string, Triple>;
export type Look = keyof typeof looks;
// Along an axis the eye is so far off that lines along it are parallel to one part in two hundred.
const fieldOfView = (look: Look) =>
  looks[look].filter((v) => Math.abs(v) > 0.1).length > 1 ? 32 : 0.5;

// Where the picture is looked at from: as a look, or freely.
export interface Eye {
  look: Look | null;
  target: Triple;
  away: Triple; // from the target
  field: number; // of view, degrees
}

export interface Hit {
  at: Triple;
  id: number; // the motion that made it, over the whole job; 0: the blank
  away: number | null; // mm from the part; null: not known
  inside: boolean; // of the material, opened by the section plane
  thick: number | null; // mm behind it, square to the surface; null: not known
}

export class View {
  readonly canvas: HTMLCanvasElement;
  readonly stock: StockMesh;
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly camera = new PerspectiveCamera(32, 1, 0.5, 5000);
  private readonly controls: OrbitControls;
  private readonly content = new Group();
  private readonly probe = new WebGLRenderTarget(1, 1, {
    format: RGBAIntegerFormat,
    type: UnsignedIntType,
    internalFormat: 'RGBA32UI',
  });
  private readonly painter: Painter;
  private current: SetupScene | null = null;
  private momentKnown = false;
  private path: Path | null = null;
  private tool = new Group();
  private zero = new Group();
  private clamps = new Group();
  private marks: Points | null = null;
  private ghost: Group | null = null; // the part's, once it was asked for
  private finish: FinishMarks | null = null;
  private finishOn = false;
  private ghostOn = false;
  private toolShown = '';
  private pathShown: PathShown = 'near';
  private atMotion = 0;
  private done = 0; // of the whole job, the last motion that is finished
  private pending = false;
  private lookShown: Look | null = null; // until it is turned by hand, it keeps fitting its frame
  private following = false;
  private readonly afterPicture: (() => void)[] = [];
  moved: () => void = () => undefined; // the eye has, by this picture

  constructor(
    holder: HTMLElement,
    field: PartField | null,
    private readonly bulk: Bulk,
    private readonly about: About,
  ) {
    this.renderer = new WebGLRenderer({ preserveDrawingBuffer: true });
    this.stock = new StockMesh(field, (work) => this.onceDrawn(work), () => this.draw());
    this.painter = new Painter(this.renderer, this.scene, this.camera, () => ({
      parts: this.content.children,
      heavy: this.stock.meshes.filter((mesh) => mesh.visible),
      drafted: (work) => this.stock.drafted(work),
      before: (height, share) => {
        this.finish?.scaled(height / 2 / this.halfView);
        this.content.traverse(({ userData }) => userData.sized?.(share));
      },
      done: () => {
        for (const work of this.afterPicture.splice(0)) work();
      },
    }));
    // Palette values go to the screen as published, without a detour through linear light.
    ColorManagement.enabled = false;
    this.renderer.outputColorSpace = LinearSRGBColorSpace;
    this.canvas = this.renderer.domElement;
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute('role', 'img');
    this.canvas.setAttribute('aria-label', `Picture of the stock, ${shown(about.title)}; arrow keys turn it`);
    holder.append(this.canvas);
    // The library sets its side up anew; what was on the screen has to be drawn again.
    this.canvas.addEventListener('webglcontextrestored', () => this.draw());
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, this.canvas);
    this.controls.addEventListener('start', () => (this.lookShown = null));
    this.controls.addEventListener('change', () => {
      this.draw();
      if (!this.following) this.moved();
    });
    const light = new DirectionalLight(0xffffff, 2);
    light.position.set(0.4, -0.6, 1);
    this.scene.add(this.content, new AmbientLight(0xffffff, 1.6), light);
    new ResizeObserver(() => this.resize(holder)).observe(holder);
    this.resize(holder);
  }

  private resize(holder: HTMLElement) {
    const { width, height } = holder.getBoundingClientRect();
    if (width < 2 || height < 2) return;
    this.painter.resize(width, height);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (this.lookShown) this.look(this.lookShown);
    this.draw();
  }

  private get size() {
    const { low, high } = this.current!;
    return Math.max(...low.map((v, k) => high[k] - v));
  }

  show(scene: SetupScene) {
    for (const child of [...this.content.children]) release(child);
    this.current = scene;
    this.momentKnown = false;
    this.stock.show(scene);
    this.path = new Path(scene.motions);
    this.tool = new Group();
    this.marks = this.ghost = this.finish = null;
    this.toolShown = '';
    this.content.add(
      ...this.stock.meshes,
      this.path.lines,
      this.tool,
      (this.zero = zeroMark(this.size / 8)),
      (this.clamps = fixtures(scene.setup, this.bulk)),
      pins(scene.findings, this.size / 120),
    );
    this.addAsked();
    this.look('all around');
  }

  // What is seldom asked for is only made then.
  private addAsked() {
    const { about, bulk, current } = this;
    if (!current) return;
    if (this.ghostOn && about.part_mesh && !this.ghost)
      this.content.add((this.ghost = partGhost(about.part_mesh, current.setup, bulk)));
    if (this.ghost) this.ghost.visible = this.ghostOn;
    if (this.finishOn && about.finish_places && !this.finish) {
      this.finish = new FinishMarks(about, current.setup, bulk, this.stock.uniforms.section);
      this.finish.upTo(this.done);
      this.content.add(this.finish.points);
    }
    if (this.finish) this.finish.points.visible = this.finishOn;
  }
  // How high a cusp or step that is drawn stands up at a place, mm; null: none is.
  finishAt(at: Triple): number | null {
    return (this.finishOn && this.finish?.near(at)) || null;
  }
  showFinish(on: boolean) {
    this.finishOn = on;
    this.addAsked();
    this.draw();
  }

  look(from: Look) {
    if (!this.current) return;
    this.lookShown = from;
    const { low, high } = this.current;
    const middle = new Vector3(...(low.map((v, k) => (v + high[k]) / 2) as Triple));
    const towards = new Vector3(...looks[from]).normalize();
    const right = new Vector3(0, 0, 1).cross(towards).normalize(),
      up = towards.clone().cross(right);
    this.camera.fov = fieldOfView(from);
    const tall = this.halfView,
      wide = tall * this.camera.aspect;
    // Near enough that the corner that sticks out most just fits.
    let away = 0;
    for (let k = 0; k < 8; k++) {
      const corner = new Vector3(
        ...([0, 1, 2].map((a) => ((k >> a) & 1 ? high[a] : low[a])) as Triple),
      ).sub(middle);
      const aside = Math.max(Math.abs(corner.dot(right)) / wide, Math.abs(corner.dot(up)) / tall);
      away = Math.max(away, corner.dot(towards) + aside);
    }
    this.stand(middle, towards.multiplyScalar(away * 1.12));
  }

  // Once the next picture stands: what makes it finer, or later ones quicker, does not hold it up.
  onceDrawn(work: () => void) {
    this.afterPicture.push(work);
  }

  // Half of what is seen upwards, a unit away.
  private get halfView() {
    return Math.tan((this.camera.fov * Math.PI) / 360);
  }
  private fitDepth() {
    if (!this.current) return;
    const away = this.camera.position.distanceTo(this.controls.target),
      reach = 4 * this.size;
    this.camera.near = Math.max(away / 100, away - reach);
    this.camera.far = away + reach;
    this.camera.updateProjectionMatrix();
  }

  private stand(target: Vector3, offset: Vector3) {
    this.controls.target.copy(target);
    this.camera.position.copy(target).add(offset);
    this.controls.update();
    this.fitDepth();
    this.draw();
    if (!this.following) this.moved();
  }

  // Sees from where another picture is seen from.
  follow(other: View) {
    this.following = true;
    this.lookShown = null;
    this.camera.fov = other.camera.fov;
    this.stand(other.controls.target, other.camera.position.clone().sub(other.controls.target));
    this.following = false;
  }

  get eye(): Eye {
    const { target } = this.controls;
    return {
      look: this.lookShown,
      target: target.toArray(),
      away: this.camera.position.clone().sub(target).toArray(),
      field: this.camera.fov,
    };
  }
  set eye(eye: Eye) {
    if (eye.look) {
      this.look(eye.look);
      return;
    }
    this.lookShown = null;
    this.camera.fov = eye.field;
    this.stand(new Vector3(...eye.target), new Vector3(...eye.away));
  }

  // Keys: turn about the work by degrees, or step nearer (factor below 1).
  turn(sideways: number, upwards: number, factor = 1) {
    this.lookShown = null;
    const offset = this.camera.position.clone().sub(this.controls.target);
    const around = Math.atan2(offset.y, offset.x) + (sideways * Math.PI) / 180;
    const steep = Math.asin(offset.z / offset.length()) + (upwards * Math.PI) / 180;
    const up = Math.max(-1.55, Math.min(1.55, steep));
    const way = [Math.cos(up) * Math.cos(around), Math.cos(up) * Math.sin(around), Math.sin(up)];
    const radius = offset.length() * factor;
    this.stand(this.controls.target, new Vector3(...way).multiplyScalar(radius));
  }

  // Goes to a place and shows it from where it can be seen: as now, or from further above.
  fly(to: Triple) {
    this.lookShown = null;
    const target = new Vector3(...to),
      from = this.controls.target.clone(),
      start = this.camera.position.clone().sub(from);
    const radius = Math.min(start.length(), (this.size * 0.26) / this.halfView);
    const ways = [start, new Vector3(...looks['all around']), new Vector3(0.05, -0.3, 1)];
    const end = ways
      .map((way) => way.clone().setLength(radius))
      .find((way, i) => i === ways.length - 1 || this.seen(target, way))!;
    const milliseconds = matchMedia('(prefers-reduced-motion: reduce)').matches ? 1 : 350;
    const begun = performance.now();
    const step = () => {
      const t = Math.min(1, (performance.now() - begun) / milliseconds),
        eased = t * t * (3 - 2 * t);
      const offset = start.clone().lerp(end, eased);
      offset.setLength(start.length() + (radius - start.length()) * eased);
      this.stand(from.clone().lerp(target, eased), offset);
      if (t < 1) requestAnimationFrame(step);
    };
    step();
  }

  private seen(target: Vector3, offset: Vector3): boolean {
    const [place, up] = [this.camera.position.clone(), this.controls.target.clone()];
    this.camera.position.copy(target).add(offset);
    this.camera.lookAt(target);
    const { width, height } = this.canvas.getBoundingClientRect();
    const hit = this.pick(width / 2, height / 2);
    this.camera.position.copy(place);
    this.camera.lookAt(up);
    return !hit || target.distanceTo(new Vector3(...hit.at)) < this.size / 60;
  }

  // Rings about places that were chosen.
  mark(places: Triple[]) {
    if (this.marks) release(this.marks);
    this.marks = rings(places);
    this.content.add(this.marks);
    this.draw();
  }

  // end: mm at either end of the colour scale; grey: mm, from which on it is no surface of the part's.
  showDeviation(on: boolean, end: number, grey: number) {
    const u = this.stock.uniforms;
    u.byDeviation.value = on;
    u.deviationEnd.value = end;
    u.deviationGrey.value = grey;
    this.draw();
  }
  colourPath(of: (motion: number) => Rgb, rapid: Rgb) {
    this.path?.colour(of, rapid);
    this.draw();
  }
  showPath(shown: PathShown) {
    this.pathShown = shown;
    this.trimPath();
    this.draw();
  }
  // What is left over or cut away beyond the part's tolerances; the rest is a ghost.
  showOnly(only: Only, left: number, into: number) {
    const u = this.stock.uniforms;
    this.ghostOn = only === 'part';
    this.addAsked();
    u.only.value = this.ghostOn ? 0 : Object.keys(onlies).indexOf(only);
    u.leftFrom.value = left;
    u.intoFrom.value = into;
    this.draw();
  }
  // From the work towards the eye, of length 1.
  get towardsEye(): Triple {
    return this.camera.position.clone().sub(this.controls.target).normalize().toArray();
  }
  setSection(section: Section) {
    const sign = section?.flip ? -1 : 1;
    const normal = (section?.normal ?? [0, 0, 0]).map((v) => v * sign) as Triple;
    const at = section ? section.at * sign : 0;
    this.stock.uniforms.section.value.set(...normal, at);
    this.draw();
  }
  setTheme(background: string, cutFace: string) {
    this.scene.background = new Color(background);
    this.stock.uniforms.cutFace.value.set(...rgb(cutFace).map((v) => v / 255));
    this.draw();
  }

  private trimPath() {
    if (!this.path) return;
    const m = this.atMotion;
    this.path.lines.visible = this.pathShown !== 'none';
    if (this.pathShown === 'near') this.path.show(m - 60, m + 60);
    else this.path.show(0, this.pathShown === 'so far' ? m + 1 : Infinity);
  }

  // motion -1: before the first; share of it done. atEnd: the setup is done.
  setMoment(motion: number, share: number, atEnd: boolean) {
    const scene = this.current;
    if (!scene) return;
    this.atMotion = Math.max(0, motion);
    const finished = share >= 1 ? motion : motion - 1;
    this.done = scene.setup.first_id + finished;
    this.stock.setMoment(motion, this.done, atEnd);
    this.finish?.upTo(this.done);
    this.placeTool(scene, motion, share);
    this.trimPath();
    this.momentKnown = true;
    this.draw();
  }

  private placeTool(scene: SetupScene, motion: number, share: number) {
    const number = motion >= 0 ? scene.motions.tool[motion] : -1;
    const found = scene.findings.filter((f) => f.place.motion === motion && motion >= 0);
    const touches = (kind: string, words = '') =>
      found.some((f) => f.finding.kind === kind && f.finding.text.includes(words));
    const holder = touches('holder-contact') || touches('fixture-contact', 'the holder goes'),
      body =
        touches('shank-contact') ||
        touches('rapid-contact') ||
        (touches('fixture-contact') && !touches('fixture-contact', 'the holder goes'));
    colourFixtures(this.clamps, (name) =>
      found.some((f) => f.finding.kind.endsWith('contact') && f.finding.text.includes(`fixture '${name}'`)),
    );
    const key = `${number} ${body} ${holder}`;
    if (key !== this.toolShown) {
      for (const child of [...this.tool.children]) release(child);
      const entry = scene.tools.get(number);
      if (entry)
        this.tool.add(
          toolBody(entry.tool, body ? touching : entry.colour, holder ? touching : holderColour),
        );
      this.toolShown = key;
    }
    if (motion >= 0) this.tool.position.set(...scene.motions.at(motion, share));
  }

  // What is drawn at a point of the canvas (CSS pixels from its corner): the pixel is drawn once more,
  // as figures.
  pick(x: number, y: number): Hit | null {
    if (!this.current || !this.momentKnown) return null;
    const { width, height } = this.canvas.getBoundingClientRect();
    const told = new Uint32Array(4);
    const visible = this.content.children.map((child) => child.visible);
    const meshes: unknown[] = this.stock.meshes;
    for (const child of this.content.children) child.visible &&= meshes.includes(child);
    this.fitDepth();
    this.camera.setViewOffset(width, height, x - 0.5, y - 0.5, 1, 1);
    this.camera.updateMatrixWorld();
    this.stock.uniforms.eye.value.copy(this.camera.position);
    this.stock.picking(() => {
      this.renderer.setRenderTarget(this.probe);
      this.renderer.clear();
      this.renderer.render(this.scene, this.camera);
      this.renderer.readRenderTargetPixels(this.probe, 0, 0, 1, 1, told);
      this.renderer.setRenderTarget(null);
    });
    this.camera.clearViewOffset();
    this.content.children.forEach((child, i) => (child.visible = visible[i]));
    if (told[3] < 4) return null;
    const [distance, , away] = new Float32Array(told.buffer);
    const at = new Vector3((x / width) * 2 - 1, 1 - (y / height) * 2, 0.5)
      .unproject(this.camera)
      .sub(this.camera.position)
      .setLength(distance)
      .add(this.camera.position);
    return {
      at: at.toArray(),
      id: told[1],
      away: away < 1e8 ? away : null,
      inside: told[3] === 5,
      thick: told[3] === 5 ? null : this.stock.thickness(this.rayTo(at), at),
    };
  }
  private rayTo(at: Vector3): Raycaster {
    return new Raycaster(
      this.camera.position.clone(),
      at.clone().sub(this.camera.position).normalize(),
    );
  }

  // Canvas place (CSS pixels) of a point in the setup's frame.
  project(at: Triple): { x: number; y: number } {
    const { width, height } = this.canvas.getBoundingClientRect();
    this.camera.updateMatrixWorld();
    const p = new Vector3(...at).project(this.camera);
    return { x: ((p.x + 1) / 2) * width, y: ((1 - p.y) / 2) * height };
  }

  draw() {
    this.painter.asked();
    if (this.pending) return;
    this.pending = true;
    requestAnimationFrame(() => {
      this.pending = false;
      // A scene whose moment is not set yet would show its start, its end and the columns at once.
      if (!this.current || !this.momentKnown) return;
      this.fitDepth();
      this.stock.uniforms.eye.value.copy(this.camera.position);
      sizeLetters(this.zero, this.halfView);
      if (this.stock.uniforms.motionColours.value) this.painter.paint();
    });
  }
}

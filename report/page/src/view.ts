// The 3-D picture of one setup: surfaces before and after, columns in between, path and tool over them.
// Everything is in the setup's frame, z up, as the work lies on the machine.
import {
  AmbientLight,
  BufferAttribute,
  BufferGeometry,
  Color,
  ColorManagement,
  DataTexture,
  DirectionalLight,
  DoubleSide,
  FloatType,
  GLSL3,
  Group,
  IUniform,
  LinearFilter,
  LinearSRGBColorSpace,
  Mesh,
  NearestFilter,
  PerspectiveCamera,
  RedFormat,
  RedIntegerFormat,
  RGBAFormat,
  Scene,
  ShaderMaterial,
  UnsignedByteType,
  UnsignedIntType,
  Vector2,
  Vector3,
  Vector4,
  WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js';
import type { Finding, Setup, Surface, Tool, Triple } from './data.ts';
import { Columns, type Grid } from './columns.ts';
import type { Motions } from './motions.ts';
import { rgb, twoSided, type Rgb } from './palette.ts';
import { hitColumns, hitSurface, type Hit } from './pick.ts';
import { columnFragment, columnVertex, surfaceFragment, surfaceVertex } from './shaders.ts';
import { fixtures, Path, pins, release, toolBody, zeroMark } from './stage.ts';

export type PathShown = 'none' | 'near' | 'so far' | 'all';
export type Section = { axis: 0 | 1 | 2; at: number; flip: boolean } | null;
type Look = 'all around' | 'top' | 'front' | 'left' | 'below';

export interface SetupScene {
  setup: Setup;
  motions: Motions;
  before: Surface;
  after: Surface | null;
  columns: Columns;
  low: Triple;
  high: Triple;
  findings: Finding[];
  tools: Map<number, { tool: Tool; colour: string }>;
}

function texture(data: Float32Array | Uint32Array, grid: Grid): DataTexture {
  const whole = data instanceof Uint32Array;
  const map = new DataTexture(
    data,
    grid.nx,
    grid.ny,
    whole ? RedIntegerFormat : RedFormat,
    whole ? UnsignedIntType : FloatType,
  );
  if (whole) map.internalFormat = 'R32UI';
  map.minFilter = map.magFilter = NearestFilter;
  map.needsUpdate = true;
  return map;
}

export class View {
  readonly canvas: HTMLCanvasElement;
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly camera = new PerspectiveCamera(32, 1, 0.5, 5000);
  private readonly controls: OrbitControls;
  private readonly content = new Group();
  private readonly uniforms: Record<string, IUniform>;
  private current: SetupScene | null = null;
  private momentKnown = false;
  private surfaces: { before: Mesh; after: Mesh | null; columns: Mesh } | null = null;
  private maps: DataTexture[] = [];
  private path: Path | null = null;
  private tool = new Group();
  private toolShown = -1;
  private pathShown: PathShown = 'near';
  private section: Section = null;
  private atMotion = 0;
  private pending = false;

  constructor(holder: HTMLElement) {
    this.renderer = new WebGLRenderer({ antialias: true, preserveDrawingBuffer: true });
    // Palette values go to the screen as published, without a detour through linear light.
    ColorManagement.enabled = false;
    this.renderer.outputColorSpace = LinearSRGBColorSpace;
    this.canvas = this.renderer.domElement;
    holder.append(this.canvas);
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, this.canvas);
    this.controls.addEventListener('change', () => this.draw());
    this.scene.add(this.content, new AmbientLight(0xffffff, 1.6));
    const light = new DirectionalLight(0xffffff, 2);
    light.position.set(0.4, -0.6, 1);
    this.scene.add(light);
    const sides = new DataTexture(
      new Uint8Array(twoSided.flatMap((c) => [...c, 255])),
      256,
      1,
      RGBAFormat,
      UnsignedByteType,
    );
    sides.minFilter = sides.magFilter = LinearFilter;
    sides.needsUpdate = true;
    const value = <T>(v: T): IUniform<T> => ({ value: v });
    this.uniforms = {
      section: value(new Vector4()),
      gridOrigin: value(new Vector2()),
      gridCell: value(1),
      gridSize: value(new Int32Array([1, 1])),
      eye: value(new Vector3()),
      cutFace: value(new Vector3()),
      motionColours: value(null),
      firstId: value(1),
      doneId: value(0),
      floorMap: value(null),
      topMap: value(null),
      idMap: value(null),
      finalMap: value(null),
      finalKnown: value(false),
      byDeviation: value(false),
      neutral: value(false),
      neutralColour: value(new Vector3(0.7, 0.69, 0.66)),
      deviationEnd: value(0.2),
      deviationGrey: value(0.8),
      twoSided: value(sides),
      lowest: value(0),
    };
    new ResizeObserver(() => this.resize(holder)).observe(holder);
    this.resize(holder);
  }

  private resize(holder: HTMLElement) {
    const { width, height } = holder.getBoundingClientRect();
    if (width < 2 || height < 2) return;
    this.renderer.setPixelRatio(Math.min(2, devicePixelRatio));
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  private material(vertexShader: string, fragmentShader: string, phase: number): ShaderMaterial {
    return new ShaderMaterial({
      glslVersion: GLSL3,
      vertexShader,
      fragmentShader,
      side: DoubleSide,
      uniforms: { ...this.uniforms, phase: { value: phase } },
    });
  }

  private surfaceMesh(surface: Surface, phase: number): Mesh {
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(surface.vertices, 3));
    geometry.setAttribute('madeBy', new BufferAttribute(surface.madeBy, 1));
    geometry.setAttribute(
      'deviation',
      new BufferAttribute(surface.deviation ?? new Float32Array(surface.madeBy.length), 1),
    );
    geometry.setIndex(new BufferAttribute(surface.triangles, 1));
    const mesh = new Mesh(geometry, this.material(surfaceVertex, surfaceFragment, phase));
    mesh.frustumCulled = false;
    return mesh;
  }

  private columnMesh(grid: Grid): Mesh {
    const { nx, ny } = grid;
    const index = new Uint32Array((nx - 1) * (ny - 1) * 6);
    for (let j = 0, k = 0; j < ny - 1; j++)
      for (let i = 0; i < nx - 1; i++) {
        const a = j * nx + i;
        for (const v of [a, a + 1, a + nx + 1, a, a + nx + 1, a + nx]) index[k++] = v;
      }
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(new Float32Array(3 * nx * ny), 3));
    geometry.setIndex(new BufferAttribute(index, 1));
    const material = this.material(columnVertex, columnFragment, 0);
    material.polygonOffset = true; // where the end surface is there already, it wins
    material.polygonOffsetFactor = 1;
    material.polygonOffsetUnits = 6;
    const mesh = new Mesh(geometry, material);
    mesh.frustumCulled = false;
    return mesh;
  }

  show(scene: SetupScene) {
    for (const child of [...this.content.children]) release(child);
    for (const map of this.maps) map.dispose();
    this.current = scene;
    this.momentKnown = false;
    const { grid, now } = scene.columns,
      u = this.uniforms;
    this.maps = [texture(now.floor, grid), texture(now.top, grid), texture(now.id, grid)];
    [u.floorMap.value, u.topMap.value, u.idMap.value] = this.maps;
    u.finalMap.value = this.maps[2];
    u.finalKnown.value = false;
    u.gridOrigin.value.set(grid.x, grid.y);
    u.gridCell.value = grid.cell;
    u.gridSize.value = new Int32Array([grid.nx, grid.ny]);
    u.lowest.value = scene.low[2];
    u.firstId.value = scene.setup.first_id;
    const after = scene.after ? this.surfaceMesh(scene.after, 2) : null;
    this.surfaces = {
      before: this.surfaceMesh(scene.before, 1),
      after,
      columns: this.columnMesh(grid),
    };
    this.content.add(this.surfaces.before, this.surfaces.columns);
    if (after) this.content.add(after);
    this.path = new Path(scene.motions);
    const size = Math.max(...[0, 1, 2].map((k) => scene.high[k] - scene.low[k]));
    this.tool = new Group();
    this.toolShown = -1;
    this.content.add(
      this.path.lines,
      this.tool,
      zeroMark(size / 8),
      fixtures(scene.setup),
      pins(scene.findings),
    );
    this.look('all around');
  }

  look(from: Look) {
    if (!this.current) return;
    const { low, high } = this.current;
    const middle = new Vector3(...(low.map((v, k) => (v + high[k]) / 2) as Triple));
    const directions: Record<Look, Triple> = {
      'all around': [-0.45, -0.95, 0.85],
      top: [0, -0.001, 1],
      front: [0, -1, 0],
      left: [-1, 0, 0],
      below: [-0.45, -0.95, -0.85],
    };
    const towards = new Vector3(...directions[from]).normalize();
    const right = new Vector3(0, 0, 1).cross(towards).normalize(),
      up = towards.clone().cross(right);
    const tall = Math.tan((this.camera.fov * Math.PI) / 360),
      wide = tall * this.camera.aspect;
    // Near enough that the corner that sticks out most just fits.
    let away = 0;
    for (let k = 0; k < 8; k++) {
      const corner = new Vector3(
        ...([0, 1, 2].map((a) => ((k >> a) & 1 ? high[a] : low[a])) as Triple),
      ).sub(middle);
      away = Math.max(
        away,
        corner.dot(towards) +
          Math.max(Math.abs(corner.dot(right)) / wide, Math.abs(corner.dot(up)) / tall),
      );
    }
    this.controls.target.copy(middle);
    this.camera.position.copy(middle).addScaledVector(towards, away * 1.12);
    this.camera.near = away / 100;
    this.camera.far = away * 20;
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.draw();
  }

  // Keys: turn about the work by degrees, or step nearer (factor below 1).
  turn(sideways: number, upwards: number, factor = 1) {
    const offset = this.camera.position.clone().sub(this.controls.target);
    const radius = offset.length() * factor;
    const around = Math.atan2(offset.y, offset.x) + (sideways * Math.PI) / 180;
    const up = Math.max(
      -1.55,
      Math.min(1.55, Math.asin(offset.z / offset.length()) + (upwards * Math.PI) / 180),
    );
    offset
      .set(Math.cos(up) * Math.cos(around), Math.cos(up) * Math.sin(around), Math.sin(up))
      .multiplyScalar(radius);
    this.camera.position.copy(this.controls.target).add(offset);
    this.controls.update();
    this.draw();
  }

  // Colour of each motion over the whole job; entry 0 is the blank's own surface.
  colourMotions(colours: Uint8Array, height: number) {
    this.uniforms.motionColours.value?.dispose();
    const map = new DataTexture(colours, 1024, height, RGBAFormat, UnsignedByteType);
    map.needsUpdate = true;
    this.uniforms.motionColours.value = map;
    this.draw();
  }
  // end: mm at either end of the colour scale; grey: mm, from which on it is no surface of the part's.
  showDeviation(on: boolean, end: number, grey: number) {
    this.uniforms.byDeviation.value = on;
    this.uniforms.neutral.value = on;
    this.uniforms.deviationEnd.value = end;
    this.uniforms.deviationGrey.value = grey;
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
  setSection(section: Section) {
    this.section = section;
    const normal: Triple = [0, 0, 0];
    if (section) normal[section.axis] = section.flip ? -1 : 1;
    this.uniforms.section.value.set(...normal, section ? section.at * (section.flip ? -1 : 1) : 0);
    this.draw();
  }
  setTheme(background: string, cutFace: string) {
    this.scene.background = new Color(background);
    this.uniforms.cutFace.value.set(...rgb(cutFace).map((v) => v / 255));
    this.draw();
  }

  private trimPath() {
    if (!this.path) return;
    const m = this.atMotion;
    this.path.lines.visible = this.pathShown !== 'none';
    if (this.pathShown === 'near') this.path.show(m - 60, m + 60);
    else if (this.pathShown === 'so far') this.path.show(0, m + 1);
    else this.path.show(0, Infinity);
  }

  // motion -1: before the first; share of it done. atEnd: the setup is done.
  setMoment(motion: number, share: number, atEnd: boolean) {
    const scene = this.current;
    if (!scene || !this.surfaces) return;
    this.atMotion = Math.max(0, motion);
    const finished = share >= 1 ? motion : motion - 1;
    this.uniforms.doneId.value = Math.max(0, scene.setup.first_id + finished);
    for (const map of this.maps.slice(0, 3)) map.needsUpdate = true;
    const { before, after, columns } = this.surfaces;
    const whole = atEnd && after !== null;
    before.visible = columns.visible = !whole;
    if (after) {
      after.visible = motion >= 0;
      (after.material as ShaderMaterial).uniforms.phase.value = whole ? 0 : 2;
    }
    if (scene.columns.finalIds && !this.uniforms.finalKnown.value && after) {
      const map = texture(scene.columns.finalIds, scene.columns.grid);
      this.maps.push(map);
      this.uniforms.finalMap.value = map;
      this.uniforms.finalKnown.value = true;
    }
    this.placeTool(scene, motion, share);
    this.trimPath();
    this.momentKnown = true;
    this.draw();
  }

  private placeTool(scene: SetupScene, motion: number, share: number) {
    const number = motion >= 0 ? scene.motions.tool[motion] : -1;
    if (number !== this.toolShown) {
      for (const child of [...this.tool.children]) release(child);
      const entry = scene.tools.get(number);
      if (entry) this.tool.add(toolBody(entry.tool, entry.colour));
      this.toolShown = number;
    }
    if (motion >= 0) this.tool.position.set(...scene.motions.at(motion, share));
  }

  // What is under a point of the canvas (CSS pixels from its corner).
  pick(x: number, y: number): Hit | null {
    const scene = this.current;
    if (!scene || !this.surfaces) return null;
    const { width, height } = this.canvas.getBoundingClientRect();
    this.camera.updateMatrixWorld();
    const far = new Vector3((x / width) * 2 - 1, 1 - (y / height) * 2, 0.5).unproject(this.camera);
    const origin = this.camera.position.toArray() as Triple;
    const direction = far.sub(this.camera.position).normalize().toArray() as Triple;
    const s = this.section;
    const shown = (at: Triple) => !s || (s.flip ? at[s.axis] >= s.at : at[s.axis] <= s.at);
    const { grid, now } = scene.columns;
    const floor = (at: Triple) => {
      const i = Math.max(0, Math.min(grid.nx - 1, Math.floor((at[0] - grid.x) / grid.cell)));
      const j = Math.max(0, Math.min(grid.ny - 1, Math.floor((at[1] - grid.y) / grid.cell)));
      return now.floor[j * grid.nx + i];
    };
    const whole = !this.surfaces.before.visible;
    const first = scene.setup.first_id,
      done = this.uniforms.doneId.value as number;
    const hits = [
      scene.after && this.surfaces.after?.visible
        ? hitSurface(
            scene.after,
            origin,
            direction,
            (at, id) => shown(at) && (whole || (id >= first && id <= done)),
            s !== null,
          )
        : null,
    ];
    if (!whole) {
      hits.push(
        hitSurface(
          scene.before,
          origin,
          direction,
          (at) => shown(at) && at[2] <= floor(at) + 0.01,
          s !== null,
        ),
      );
      hits.push(hitColumns(scene.columns, origin, direction, shown));
    }
    return hits.reduce((a, b) => (!a || (b && b.distance < a.distance) ? b : a), null);
  }

  // Canvas place (CSS pixels) of a point in the setup's frame.
  project(at: Triple): { x: number; y: number } {
    const { width, height } = this.canvas.getBoundingClientRect();
    this.camera.updateMatrixWorld();
    const p = new Vector3(...at).project(this.camera);
    return { x: ((p.x + 1) / 2) * width, y: ((1 - p.y) / 2) * height };
  }

  draw() {
    if (this.pending) return;
    this.pending = true;
    requestAnimationFrame(() => {
      this.pending = false;
      // A scene whose moment is not set yet would show its start, its end and the columns at once.
      if (this.current && !this.momentKnown) return;
      this.uniforms.eye.value.copy(this.camera.position);
      if (this.uniforms.motionColours.value) this.renderer.render(this.scene, this.camera);
    });
  }
}

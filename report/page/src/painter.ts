// Draws the picture to the end where that is quick. Where it is not (no graphics card), it is drawn coarsely while it
// moves, and finely piece by piece once it stands: between two pieces the page answers.
import {
  Mesh,
  OrthographicCamera,
  PlaneGeometry,
  ShaderMaterial,
  GLSL3,
  type Object3D,
  type PerspectiveCamera,
  type Scene,
  Vector2,
  WebGLRenderTarget,
  type WebGLRenderer,
} from 'three';

const good = 40; // ms a piece may take
const rest = 150; // ms without a change: it stands
const samples = 4; // a pixel; the very first picture, which is drawn once more when it is shaded, has one
const frame = 30; // ms a picture may take while it moves
const shares = [1, 0.75, 0.5, 0.35]; // of the picture's own resolution then

export interface Painted {
  parts: Object3D[]; // all that may be drawn
  heavy: Mesh[]; // of these, what is drawn in pieces
  drafted: (work: () => void) => void; // what is drawn meanwhile has coarse meshes instead of heavy ones
  before: (height: number, share: number) => void; // of what is drawn next: its pixels, and that share of all there could be
  done: () => void; // a picture, coarse or whole, was drawn to its end
}

export class Painter {
  private readonly fine = new WebGLRenderTarget(1, 1, { samples: 0, resolveDepthBuffer: false });
  private readonly sheet: Mesh<PlaneGeometry, ShaderMaterial>;
  private readonly flat = new OrthographicCamera(-1, 1, 1, -1, 0, 1);
  private corners = Infinity; // that are drawn within `good`, as far as is known; the first picture tells
  private width = 1;
  private height = 1;
  private share = 1; // index in shares
  private turn = 0; // of drawing finely; a later one ends it
  private waiting = 0; // the timer until it stands
  private busy = false; // a coarse picture, or the first, is under way
  private again = false;

  constructor(
    private readonly renderer: WebGLRenderer,
    private readonly scene: Scene,
    private readonly camera: PerspectiveCamera,
    private readonly painted: () => Painted,
  ) {
    this.sheet = new Mesh(
      new PlaneGeometry(2, 2),
      new ShaderMaterial({
        glslVersion: GLSL3,
        vertexShader: 'void main() { gl_Position = vec4(position.xy, 0.0, 1.0); }',
        fragmentShader:
          'uniform sampler2D map; out vec4 told; void main() { told = texelFetch(map, ivec2(gl_FragCoord.xy), 0); }',
        uniforms: { map: { value: null } },
        depthTest: false,
        depthWrite: false,
      }),
    );
    this.sheet.frustumCulled = false;
    renderer.autoClear = false;
  }

  // CSS pixels.
  resize(width: number, height: number) {
    this.width = width;
    this.height = height;
    this.renderer.setPixelRatio(Math.min(2, devicePixelRatio));
    this.sized(1);
  }
  private mark(drawn: 'asked' | 'coarse' | 'whole') {
    this.renderer.domElement.dataset.drawn = drawn;
  }
  // A picture that is being drawn in pieces is not what is asked for any more.
  asked() {
    this.turn++;
    clearTimeout(this.waiting);
    if (this.renderer.domElement.dataset.drawn !== 'coarse') this.mark('asked');
  }

  paint() {
    if (this.busy) {
      this.again = true;
      return;
    }
    const { heavy } = this.painted();
    const whole = heavy.reduce((sum, mesh) => sum + mesh.geometry.getIndex()!.count, 0);
    if (this.corners < whole) return this.coarsely();
    this.busy = this.corners === Infinity; // how long the first takes is not known: no second beside it
    this.finely();
  }
  private free() {
    this.busy = false;
    if (!this.again) return;
    this.again = false;
    requestAnimationFrame(() => this.paint());
  }

  // The canvas itself has fewer pixels then, and is stretched.
  private coarsely() {
    const { parts, drafted } = this.painted();
    this.sized(shares[this.share]);
    drafted(() => this.into(null, parts, true));
    this.mark('coarse');
    this.busy = true;
    this.whenDone((milliseconds) => {
      if (milliseconds > frame) this.share = Math.min(shares.length - 1, this.share + 1);
      this.painted().done();
      this.free();
    });
    this.waiting = setTimeout(() => this.finely(), rest);
  }

  private finely() {
    const { fine } = this;
    const turn = ++this.turn,
      ratio = this.renderer.getPixelRatio();
    fine.setSize(Math.floor(this.width * ratio), Math.floor(this.height * ratio));
    const { parts, heavy } = this.painted();
    const others = parts.filter((part) => !heavy.includes(part as Mesh));
    const whole = heavy.reduce((sum, mesh) => sum + mesh.geometry.getIndex()!.count, 0);
    let at = 0, // of heavy
      from = 0; // in its index
    const piece = () => {
      if (turn !== this.turn) return;
      const drawn = this.corners,
        atOnce = drawn >= whole && at === 0 && from === 0;
      let left = drawn;
      if (atOnce) {
        this.into(fine, parts, true);
        at = heavy.length;
      } else if (at === 0 && from === 0) this.into(fine, [], true);
      for (; at < heavy.length && left > 0; at++, from = 0) {
        const { geometry } = heavy[at],
          all = geometry.getIndex()!.count;
        const count = Math.min(all - from, 3 * Math.ceil(left / 3));
        geometry.setDrawRange(from, count);
        this.into(fine, [heavy[at]], false);
        geometry.setDrawRange(0, Infinity);
        left -= count;
        if (from + count < all) {
          from += count;
          break;
        }
      }
      const last = at === heavy.length;
      if (last) {
        if (!atOnce) this.into(fine, others, false);
        this.sized(1);
        this.show(fine);
      }
      this.whenDone((milliseconds) => {
        // A piece that was cut short says nothing of longer ones.
        if (left <= 0 || milliseconds > good || drawn >= whole)
          this.corners = Math.min(drawn, whole) * Math.min(4, good / Math.max(1, milliseconds));
        this.corners = Math.max(60_000, Math.min(4 * whole, this.corners));
        if (drawn === Infinity) this.free();
        if (turn !== this.turn) return;
        if (!last) return piece();
        this.mark('whole');
        if (fine.samples !== samples) {
          fine.dispose();
          fine.samples = samples;
        }
        this.painted().done();
      });
    };
    piece();
  }

  private sized(share: number) {
    const size = this.renderer.getSize(new Vector2()),
      [width, height] = [this.width * share, this.height * share];
    if (size.x !== width || size.y !== height) this.renderer.setSize(width, height, false);
  }

  // Some parts of the scene, into a target or onto the canvas.
  private into(target: WebGLRenderTarget | null, parts: Object3D[], clear: boolean) {
    const { renderer, scene, camera } = this;
    const all = this.painted().parts,
      were = all.map((part) => part.visible);
    for (const part of all) part.visible &&= parts.includes(part);
    const { background } = scene;
    this.painted().before(target?.height ?? renderer.domElement.height, target ? 1 : shares[this.share]);
    renderer.autoClear = clear;
    if (!clear) scene.background = null; // or else it is cleared all the same
    renderer.setRenderTarget(target);
    renderer.render(scene, camera);
    renderer.setRenderTarget(null);
    renderer.autoClear = false;
    scene.background = background;
    all.forEach((part, i) => (part.visible = were[i]));
  }
  private show(target: WebGLRenderTarget) {
    this.sheet.material.uniforms.map.value = target.texture;
    this.renderer.render(this.sheet, this.flat);
  }

  // Once what was asked for so far is drawn, with the ms that took.
  private whenDone(then: (milliseconds: number) => void) {
    const gl = this.renderer.getContext() as WebGL2RenderingContext,
      begun = performance.now(),
      fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
    const look = () => {
      const done = !fence || gl.isContextLost() || gl.getSyncParameter(fence, gl.SYNC_STATUS) === gl.SIGNALED;
      if (!done) return void setTimeout(look, 2);
      gl.deleteSync(fence);
      then(performance.now() - begun);
    };
    setTimeout(look);
  }
}

// The stock of one setup as meshes: surfaces before and after, and columns in between. What is drawn of
// them at a moment is decided in the shaders; the same shaders say what lies under the pointer.
import {
  BufferAttribute,
  BufferGeometry,
  Data3DTexture,
  DataTexture,
  DataUtils,
  DoubleSide,
  FloatType,
  GLSL3,
  HalfFloatType,
  IUniform,
  LinearFilter,
  Matrix4,
  Mesh,
  NearestFilter,
  Raycaster,
  RedFormat,
  RedIntegerFormat,
  RGBAFormat,
  ShaderMaterial,
  UnsignedByteType,
  UnsignedIntType,
  Vector2,
  Vector3,
  Vector4,
} from 'three';
import type { Grid } from './columns.ts';
import type { Surface } from './data.ts';
import { twoSided } from './palette.ts';
import { addCreasedNormals, withDoubled } from './creased_normals.ts';
import type { Difference } from './difference.ts';
import { fieldFromSetup, type PartField, type SetupScene } from './scene_data.ts';
import {
  columnFragment,
  columnVertex,
  draftColumnVertex,
  draftFragment,
  draftSurfaceVertex,
  surfaceFragment,
  surfaceVertex,
} from './shaders.ts';
import { draftColumns, draftOf, taken } from './draft.ts';
import { occlusionOf } from './occlusion.ts';
import { release } from './stage.ts';

const value = <T>(v: T): IUniform<T> => ({ value: v });
const unknown = ({ madeBy }: Surface) => new Float32Array(madeBy.length).fill(1e9);

function colourMap(rgba: Uint8Array, width: number, height: number): DataTexture {
  const map = new DataTexture(rgba, width, height, RGBAFormat, UnsignedByteType);
  map.needsUpdate = true;
  return map;
}

function gridMap(data: Float32Array | Uint32Array, grid: Grid): DataTexture {
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

function fieldMap({ count, values }: PartField): Data3DTexture {
  const map = new Data3DTexture(Uint16Array.from(values, DataUtils.toHalfFloat), ...count);
  map.format = RedFormat;
  map.type = HalfFloatType;
  map.minFilter = map.magFilter = LinearFilter;
  map.unpackAlignment = 1;
  map.needsUpdate = true;
  return map;
}

export class StockMesh {
  readonly uniforms: Record<string, IUniform>;
  private scene: SetupScene | null = null;
  private before: Mesh | null = null;
  private after: Mesh | null = null;
  private columns: Mesh | null = null;
  private maps: DataTexture[] = [];
  private shades: Data3DTexture[] = [];
  unshaded = 0; // surfaces that are drawn plainly as yet
  private partMap: Data3DTexture | null = null; // once the first picture stands
  private measured: Difference | null | 'part' = 'part';
  private otherMap: Data3DTexture | null = null; // of what distances are measured from instead of the part

  constructor(
    field: PartField | null,
    private readonly onceDrawn: (work: () => void) => void,
    private readonly changed: () => void,
  ) {
    const sides = colourMap(new Uint8Array(twoSided.flatMap((c) => [...c, 255])), 256, 1);
    sides.minFilter = sides.magFilter = LinearFilter;
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
      neutralColour: value(new Vector3(0.7, 0.69, 0.66)),
      deviationEnd: value(0.2),
      deviationGrey: value(0.8),
      only: value(0),
      leftFrom: value(0),
      intoFrom: value(0),
      twoSided: value(sides),
      lowest: value(0),
      fieldKnown: value(false),
      partField: value(null),
      fieldFromSetup: value(new Matrix4()),
    };
    if (field)
      onceDrawn(() => {
        this.partMap = fieldMap(field);
        if (this.measured !== 'part') return;
        this.toldFrom(this.partMap);
        if (this.uniforms.byDeviation.value || this.uniforms.only.value) changed();
      });
  }
  // What distances are read from.
  private toldFrom(map: Data3DTexture | null) {
    this.uniforms.partField.value = map;
    this.uniforms.fieldKnown.value = map !== null;
  }

  private mesh(geometry: BufferGeometry, vertex: string, fragment: string, phase: number): Mesh {
    const material = (vertexShader: string, fragmentShader: string, defines = {}, own = uniforms) =>
      new ShaderMaterial({
        glslVersion: GLSL3,
        vertexShader,
        fragmentShader,
        side: DoubleSide,
        defines,
        uniforms: own,
      });
    const uniforms = {
      ...this.uniforms,
      phase: value(phase),
      materialMap: value(null),
      materialPlace: value(new Vector4()),
      materialSize: value(new Vector3()),
    };
    const mesh = new Mesh(geometry, material(vertex, fragment));
    mesh.userData.pick = material(vertex, fragment, { PICK: '' });
    const columns = vertex === columnVertex;
    mesh.userData.quick = material(columns ? draftColumnVertex : draftSurfaceVertex, draftFragment, {}, columns ? { ...uniforms, phase: value(3) } : uniforms);
    mesh.frustumCulled = false;
    mesh.renderOrder = -1; // before lines that lie on it, in pieces or at once
    return mesh;
  }

  private surfaceMesh(surface: Surface, phase: number): Mesh {
    const geometry = new BufferGeometry();
    const away = surface.deviation ?? unknown(surface);
    geometry.setAttribute('position', new BufferAttribute(surface.vertices, 3));
    geometry.setAttribute('since', new BufferAttribute(surface.madeBy, 1));
    geometry.setAttribute('madeBy', new BufferAttribute(surface.madeBy.slice(), 1));
    geometry.setAttribute('deviation', new BufferAttribute(away, 1));
    geometry.setIndex(new BufferAttribute(surface.triangles, 1));
    const mesh = this.mesh(geometry, surfaceVertex, surfaceFragment, phase);
    // The first picture does not wait for smooth shading and what lies in the shade.
    this.unshaded++;
    let gone = false;
    geometry.addEventListener('dispose', () => (gone = true));
    const finish = () => {
      this.unshaded--;
      if (gone) return;
      addCreasedNormals(geometry);
      mesh.userData.draft = draftOf(geometry);
      this.shade(mesh, surface);
      if (mesh.visible || (mesh === this.after && this.columns?.visible)) this.changed();
    };
    this.onceDrawn(() => setTimeout(finish));
    return mesh;
  }

  // While a setup is cut, columns take what its end leaves in the shade.
  private shade(mesh: Mesh, surface: Surface) {
    const { scene, after, columns } = this;
    if (!scene) return;
    const { origin, step, count, values } = occlusionOf(surface, scene.low, scene.high);
    const map = new Data3DTexture(values, ...count);
    map.format = RedFormat;
    map.minFilter = map.magFilter = LinearFilter;
    map.unpackAlignment = 1;
    map.needsUpdate = true;
    this.shades.push(map);
    for (const of of mesh === after ? [mesh, columns!] : [mesh]) {
      const { uniforms } = of.material as ShaderMaterial;
      uniforms.materialMap.value = map;
      uniforms.materialPlace.value.set(...origin, step);
      uniforms.materialSize.value.set(...count).multiplyScalar(step);
    }
  }

  private columnMesh({ nx, ny }: Grid): Mesh {
    const index = new Uint32Array((nx - 1) * (ny - 1) * 6);
    for (let j = 0, k = 0; j < ny - 1; j++)
      for (let i = 0; i < nx - 1; i++) {
        const a = j * nx + i;
        for (const v of [a, a + 1, a + nx + 1, a, a + nx + 1, a + nx]) index[k++] = v;
      }
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(new Float32Array(3 * nx * ny), 3));
    geometry.setIndex(new BufferAttribute(index, 1));
    const mesh = this.mesh(geometry, columnVertex, columnFragment, 0);
    mesh.userData.draft = draftColumns(geometry, nx, ny);
    for (const material of [mesh.material, mesh.userData.pick] as ShaderMaterial[]) {
      material.polygonOffset = true; // where the end surface is there already, it wins
      material.polygonOffsetFactor = 1;
      material.polygonOffsetUnits = 6;
    }
    return mesh;
  }

  // What work draws has fewer triangles, and light by their corners.
  drafted(work: () => void) {
    const { meshes } = this;
    const whole = meshes.map(({ geometry, material }) => ({ geometry, material }));
    for (const mesh of meshes) {
      const { draft, quick } = mesh.userData as { draft?: BufferGeometry; quick: ShaderMaterial };
      if (!draft && !mesh.geometry.getAttribute('normal')) continue;
      if (draft) mesh.geometry = draft;
      mesh.material = quick;
    }
    work();
    meshes.forEach((mesh, i) => Object.assign(mesh, whole[i]));
  }

  get meshes(): Mesh[] {
    return [this.before, this.after, this.columns].filter((m) => m !== null);
  }

  show(scene: SetupScene) {
    for (const mesh of this.meshes) {
      for (const of of ['pick', 'quick']) (mesh.userData[of] as ShaderMaterial).dispose();
      (mesh.userData.draft as BufferGeometry | undefined)?.dispose();
      release(mesh);
    }
    for (const map of [...this.maps, ...this.shades]) map.dispose();
    this.shades = [];
    this.scene = scene;
    this.measureFrom('part');
    const { grid, now } = scene.columns,
      u = this.uniforms;
    this.maps = [gridMap(now.floor, grid), gridMap(now.top, grid), gridMap(now.id, grid)];
    [u.floorMap.value, u.topMap.value, u.idMap.value] = this.maps;
    u.finalMap.value = this.maps[2];
    u.finalKnown.value = false;
    u.gridOrigin.value.set(grid.x, grid.y);
    u.gridCell.value = grid.cell;
    u.gridSize.value = new Int32Array([grid.nx, grid.ny]);
    u.lowest.value = scene.low[2];
    u.firstId.value = scene.setup.first_id;
    u.fieldFromSetup.value = scene.fieldFromSetup;
    this.before = this.surfaceMesh(scene.before, 1);
    this.after = scene.after && this.surfaceMesh(scene.after, 2);
    this.columns = this.columnMesh(grid);
  }

  // From what another run leaves, or from the part again. null: that is not known yet.
  measureFrom(from: Difference | null | 'part') {
    const { scene, before, after, uniforms: u } = this;
    if (from === this.measured) return;
    this.measured = from;
    this.otherMap?.dispose();
    this.otherMap = null;
    if (!scene) return;
    const part = from === 'part';
    if (from && !part) this.otherMap = fieldMap(from.field);
    this.toldFrom(part ? this.partMap : this.otherMap);
    u.fieldFromSetup.value = from && !part ? fieldFromSetup(from.field, scene.setup) : scene.fieldFromSetup;
    const put = (mesh: Mesh | null, away: Float32Array) => {
      if (!mesh) return;
      const whole = withDoubled(away, mesh.geometry);
      mesh.geometry.setAttribute('deviation', new BufferAttribute(whole, 1));
      const draft = mesh.userData.draft as BufferGeometry | undefined;
      draft?.setAttribute('deviation', new BufferAttribute(taken(whole, draft), 1));
    };
    put(before, (part && scene.before.deviation) || unknown(scene.before));
    if (scene.after)
      put(after, (part ? scene.after.deviation : from && from.atEnd) || unknown(scene.after));
  }

  // Motion -1: before the first. done: of the whole job the last motion that is finished.
  setMoment(motion: number, done: number, atEnd: boolean) {
    const { before, after, columns, scene } = this;
    if (!scene || !before || !columns) return;
    this.uniforms.doneId.value = Math.max(0, done);
    for (const map of this.maps.slice(0, 3)) map.needsUpdate = true;
    const whole = atEnd && after !== null;
    before.visible = columns.visible = !whole;
    if (after) {
      after.visible = motion >= 0;
      (after.material as ShaderMaterial).uniforms.phase.value = whole ? 0 : 2;
    }
    if (scene.columns.finalIds && !this.uniforms.finalKnown.value && after) {
      const map = gridMap(scene.columns.finalIds, scene.columns.grid);
      this.maps.push(map);
      this.uniforms.finalMap.value = map;
      this.uniforms.finalKnown.value = true;
    }
  }

  // Colour of each motion over the whole job; entry 0 is the blank's own surface.
  colourMotions(colours: Uint8Array, height: number) {
    this.uniforms.motionColours.value?.dispose();
    this.uniforms.motionColours.value = colourMap(colours, 1024, height);
  }

  // Of the finished surface: how thick the material is behind a place, square to the face that is seen there
  // along the ray; null while it is cut, or where no face of it is seen.
  thickness(ray: Raycaster, at: Vector3): number | null {
    const { after, before } = this;
    if (!after || !before || before.visible) return null;
    after.updateMatrixWorld();
    const seen = ray
      .intersectObject(after, false)
      .find((hit) => hit.face && hit.point.distanceTo(at) < 0.05);
    if (!seen) return null;
    const inwards = seen.face!.normal.clone().negate();
    const skip = 0.02; // mm, off the face itself
    const start = seen.point.clone().addScaledVector(inwards, skip);
    const behind = new Raycaster(start, inwards).intersectObject(after, false)[0];
    return behind ? behind.distance + skip : null;
  }

  // While it runs, every mesh says what stands where instead of showing it.
  picking(work: () => void) {
    const shown = this.meshes.map((mesh) => mesh.material);
    this.meshes.forEach((mesh) => (mesh.material = mesh.userData.pick as ShaderMaterial));
    work();
    this.meshes.forEach((mesh, i) => (mesh.material = shown[i]));
  }
}

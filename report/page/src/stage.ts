// Things that stand around the stock: the path, the tool, the zero, fixtures, pins and marks.
import {
  BoxGeometry,
  BufferAttribute,
  BufferGeometry,
  CanvasTexture,
  Color,
  DoubleSide,
  EdgesGeometry,
  FrontSide,
  Group,
  LatheGeometry,
  Line,
  LineBasicMaterial,
  LineSegments,
  Matrix4,
  Mesh,
  MeshLambertMaterial,
  Object3D,
  Points,
  PointsMaterial,
  type Side,
  Sprite,
  SpriteMaterial,
  Vector2,
} from 'three';
import type { Bulk, MeshRef, Setup, Tool, Triple } from './data.ts';
import type { PlacedFinding } from './scene_data.ts';
import { Kind, type Motions } from './motions.ts';
import { categories, type Rgb } from './palette.ts';

export function release(object: Object3D) {
  object.traverse((part) => {
    const mesh = part as Mesh;
    mesh.geometry?.dispose();
    for (const material of [mesh.material].flat()) material?.dispose();
  });
  object.removeFromParent();
}

// All motions as line pieces; vertexAt[m] is the first vertex of motion m.
export class Path {
  readonly lines: LineSegments;
  readonly vertexAt: Uint32Array;
  constructor(private readonly motions: Motions) {
    this.vertexAt = new Uint32Array(motions.count + 1);
    const chord = 0.03;
    for (let m = 0; m < motions.count; m++)
      this.vertexAt[m + 1] = this.vertexAt[m] + 2 * motions.pieces(m, chord);
    const total = this.vertexAt[motions.count];
    const places = new Float32Array(3 * total);
    const a: Triple = [0, 0, 0],
      b: Triple = [0, 0, 0];
    for (let m = 0, v = 0; m < motions.count; m++) {
      const pieces = motions.pieces(m, chord);
      motions.at(m, 0, a);
      for (let k = 1; k <= pieces; k++, v += 2) {
        motions.at(m, k / pieces, b);
        places.set(a, 3 * v);
        places.set(b, 3 * v + 3);
        a[0] = b[0];
        a[1] = b[1];
        a[2] = b[2];
      }
    }
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(places, 3));
    geometry.setAttribute('color', new BufferAttribute(new Uint8Array(3 * total), 3, true));
    this.lines = new LineSegments(geometry, new LineBasicMaterial({ vertexColors: true }));
    this.lines.frustumCulled = false;
  }
  colour(of: (motion: number) => Rgb, rapid: Rgb) {
    const colours = this.lines.geometry.getAttribute('color') as BufferAttribute;
    const array = colours.array as Uint8Array;
    for (let m = 0; m < this.motions.count; m++) {
      const c = this.motions.kind[m] === Kind.rapid ? rapid : of(m);
      for (let v = this.vertexAt[m]; v < this.vertexAt[m + 1]; v++) array.set(c, 3 * v);
    }
    colours.needsUpdate = true;
  }
  show(from: number, to: number) {
    const first = this.vertexAt[Math.max(0, from)],
      last = this.vertexAt[Math.min(this.motions.count, to)];
    this.lines.geometry.setDrawRange(first, Math.max(0, last - first));
  }
}

export const holderColour = '#8d8a85',
  touching = '#c00000'; // where a finding says so
export function toolBody(tool: Tool, colour: string, ofHolder: string): Group {
  const group = new Group();
  const turned = (points: [number, number][], material: MeshLambertMaterial) => {
    const mesh = new Mesh(
      new LatheGeometry(
        points.map(([r, h]) => new Vector2(Math.max(0, r), h)),
        40,
      ),
      material,
    );
    mesh.rotation.x = Math.PI / 2;
    return mesh;
  };
  const closed: [number, number][] = [...tool.outline];
  if (closed.length) closed.push([0, closed[closed.length - 1][1]]);
  group.add(
    turned(
      closed,
      new MeshLambertMaterial({
        color: new Color(colour),
        side: DoubleSide,
        transparent: true,
        opacity: 0.72,
      }),
    ),
  );
  let height = tool.stickout;
  const points: [number, number][] = [];
  for (const [diameter, length] of tool.holder) {
    points.push(
      [points.length ? diameter / 2 : 0, height],
      [diameter / 2, height],
      [diameter / 2, height + length],
    );
    height += length;
  }
  if (points.length) {
    points.push([0, height]);
    group.add(
      turned(
        points,
        new MeshLambertMaterial({
          color: new Color(ofHolder),
          side: DoubleSide,
          transparent: true,
          opacity: ofHolder === touching ? 0.6 : 0.28,
          depthWrite: false,
        }),
      ),
    );
  }
  return group;
}

// A small drawing as a texture; draw gets a context of 64 x 64 with the middle at 0, 0.
function drawn(draw: (context: CanvasRenderingContext2D) => void): CanvasTexture {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = 64;
  const context = canvas.getContext('2d')!;
  context.translate(32, 32);
  context.lineWidth = 7;
  context.lineJoin = 'round';
  draw(context);
  return new CanvasTexture(canvas);
}

// Letters keep their size on the screen: half: of what is seen upwards, a unit away.
export function sizeLetters(mark: Group, half: number) {
  for (const part of mark.children) if (part instanceof Sprite) part.scale.setScalar(0.12 * half);
}
// x, y, z in blue, bluish green and vermillion, each with its letter at the end.
export function zeroMark(size: number): Group {
  const group = new Group();
  [categories[5], categories[2], categories[0]].forEach((color, axis) => {
    const end: Triple = [0, 0, 0];
    end[axis] = size;
    const geometry = new BufferGeometry().setAttribute(
      'position',
      new BufferAttribute(new Float32Array([0, 0, 0, ...end]), 3),
    );
    const line = new Line(
      geometry,
      new LineBasicMaterial({ color, depthTest: false, transparent: true }),
    );
    const map = drawn((context) => {
      context.font = 'bold 44px system-ui, sans-serif';
      context.textAlign = 'center';
      context.textBaseline = 'middle';
      context.strokeStyle = '#fff';
      context.strokeText('XYZ'[axis], 0, 2);
      context.fillStyle = color;
      context.fillText('XYZ'[axis], 0, 2);
    });
    const letter = new Sprite(
      new SpriteMaterial({ map, depthTest: false, sizeAttenuation: false }),
    );
    end[axis] = size * 1.15;
    letter.position.set(...end);
    line.renderOrder = letter.renderOrder = 5;
    group.add(line, letter);
  });
  return group;
}

// Edges that turn by more than so many degrees as lines, and faces one can see through.
function seenThrough(shape: BufferGeometry, color: string, opacity: number, side: Side, degrees: number): (LineSegments | Mesh)[] {
  return [
    new LineSegments(new EdgesGeometry(shape, degrees), new LineBasicMaterial({ color })),
    new Mesh(
      shape,
      new MeshLambertMaterial({ color, flatShading: true, side, transparent: true, opacity, depthWrite: false }),
    ),
  ];
}

function shapeOf(mesh: MeshRef, bulk: Bulk): BufferGeometry {
  const shape = new BufferGeometry();
  shape.setAttribute('position', new BufferAttribute(bulk.floats(mesh.vertices), 3));
  shape.setIndex(new BufferAttribute(bulk.whole(mesh.triangles), 1));
  return shape;
}

// The part over everything else, seen through: what it will be, wherever the stock stands.
export function partGhost(mesh: MeshRef, setup: Setup, bulk: Bulk): Group {
  const group = new Group();
  const [x, y, z] = setup.stock_from_setup;
  const shape = shapeOf(mesh, bulk).applyMatrix4(new Matrix4().set(...x, ...y, ...z, 0, 0, 0, 1).invert());
  group.add(...seenThrough(shape, categories[0], 0.3, FrontSide, 30));
  for (const part of group.children as (LineSegments | Mesh)[]) {
    (part.material as LineBasicMaterial).depthTest = false;
    part.renderOrder = 3;
  }
  return group;
}

// As they are.
export function fixtures(setup: Setup, bulk: Bulk): Group {
  const group = new Group();
  for (const { name, low, high, mesh } of setup.fixtures) {
    const one = new Group();
    one.userData.name = name;
    group.add(one);
    let shape: BufferGeometry;
    if (mesh) {
      shape = shapeOf(mesh, bulk);
    } else {
      shape = new BoxGeometry(...(low.map((v, k) => high[k] - v) as Triple));
      shape.translate(...(low.map((v, k) => (v + high[k]) / 2) as Triple));
    }
    one.add(...seenThrough(shape, categories[3], 0.35, DoubleSide, 20));
  }
  return group;
}

// Those that are run into are red, and less seen through.
export function colourFixtures(group: Group, touched: (name: string) => boolean) {
  for (const one of group.children) {
    const red = touched(one.userData.name as string);
    for (const part of one.children as (LineSegments | Mesh)[]) {
      const material = part.material as LineBasicMaterial | MeshLambertMaterial;
      material.color.set(red ? touching : categories[3]);
      if (material.transparent) material.opacity = red ? 0.7 : 0.35;
    }
  }
}

export const levelColours: Record<string, string> = {
  error: categories[5],
  warning: categories[1],
  note: categories[4],
};
// The corners of each level's sign; a note's is a disc. The same signs stand in the lists.
const signs: Record<string, [number, number][]> = {
  error: [
    [0, -24],
    [24, 20],
    [-24, 20],
  ],
  warning: [
    [0, -26],
    [26, 0],
    [0, 26],
    [-26, 0],
  ],
};

function points(places: Triple[], map: CanvasTexture, size: number, onTop: boolean): Points {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(new Float32Array(places.flat()), 3));
  const material = new PointsMaterial({
    map,
    size,
    sizeAttenuation: false,
    alphaTest: 0.4,
    depthTest: !onTop,
    transparent: onTop,
  });
  const of = new Points(geometry, material);
  // As large on the screen where the picture has fewer pixels.
  of.userData.sized = (share: number) => (material.size = size * share);
  of.renderOrder = 6;
  of.frustumCulled = false;
  return of;
}

// A sign at each finding that has a place. What the work hides stays hidden: the sign is held above its
// place by lift, mm, so that the surface it stands on does not hide it.
export function pins(findings: PlacedFinding[], lift: number): Group {
  const group = new Group();
  for (const [level, color] of Object.entries(levelColours)) {
    const places = findings.flatMap(({ finding, place }) =>
      finding.level === level && place.at
        ? [[place.at[0], place.at[1], place.at[2] + lift] as Triple]
        : [],
    );
    const map = drawn((context) => {
      context.beginPath();
      if (signs[level]) signs[level].forEach(([x, y]) => context.lineTo(x, y));
      else context.arc(0, 0, 20, 0, 7);
      context.closePath();
      context.fillStyle = color;
      context.fill();
      context.strokeStyle = '#222';
      context.stroke();
    });
    if (places.length) group.add(points(places, map, 13, false));
  }
  return group;
}

// Rings about places that were chosen, seen through everything.
export function rings(places: Triple[]): Points {
  const map = drawn((context) => {
    for (const [width, colour] of [
      [11, '#fff'],
      [6, '#000'],
    ] as const) {
      context.beginPath();
      context.arc(0, 0, 24, 0, 7);
      context.lineWidth = width;
      context.strokeStyle = colour;
      context.stroke();
    }
  });
  return points(places, map, 26, true);
}

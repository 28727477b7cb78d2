// Things that stand around the stock: the path, the tool, the zero, fixtures and the pins of findings.
import {
  BoxGeometry,
  BufferAttribute,
  BufferGeometry,
  Color,
  DoubleSide,
  EdgesGeometry,
  Group,
  LatheGeometry,
  Line,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshLambertMaterial,
  Object3D,
  Points,
  PointsMaterial,
  Vector2,
} from 'three';
import type { Finding, Setup, Tool, Triple } from './data.ts';
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

export function toolBody(tool: Tool, colour: string): Group {
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
          color: 0x8d8a85,
          side: DoubleSide,
          transparent: true,
          opacity: 0.28,
          depthWrite: false,
        }),
      ),
    );
  }
  return group;
}

export function zeroMark(size: number): Group {
  const group = new Group();
  // x, y, z in vermillion, bluish green and blue, each with its letter's place at the end of a stroke.
  [categories[5], categories[2], categories[0]].forEach((colour, axis) => {
    const end = [0, 0, 0];
    end[axis] = size;
    const geometry = new BufferGeometry().setAttribute(
      'position',
      new BufferAttribute(new Float32Array([0, 0, 0, ...end]), 3),
    );
    const line = new Line(
      geometry,
      new LineBasicMaterial({ color: colour, depthTest: false, transparent: true }),
    );
    line.renderOrder = 5;
    group.add(line);
  });
  return group;
}

export function fixtures(setup: Setup): Group {
  const group = new Group();
  for (const fixture of setup.fixtures) {
    const size = [0, 1, 2].map((k) => fixture.high[k] - fixture.low[k]);
    const edges = new LineSegments(
      new EdgesGeometry(new BoxGeometry(size[0], size[1], size[2])),
      new LineBasicMaterial({ color: categories[3] }),
    );
    edges.position.set(
      (fixture.low[0] + fixture.high[0]) / 2,
      (fixture.low[1] + fixture.high[1]) / 2,
      (fixture.low[2] + fixture.high[2]) / 2,
    );
    group.add(edges);
  }
  return group;
}

export const levelColours: Record<string, string> = {
  error: categories[5],
  warning: categories[1],
  note: categories[4],
};

export function pins(findings: Finding[]): Points {
  const places = new Float32Array(findings.flatMap((f) => f.at)),
    colours = new Float32Array(findings.length * 3);
  findings.forEach((f, i) =>
    new Color(levelColours[f.level] ?? categories[7]).toArray(colours, 3 * i),
  );
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(places, 3));
  geometry.setAttribute('color', new BufferAttribute(colours, 3));
  const points = new Points(
    geometry,
    new PointsMaterial({
      vertexColors: true,
      size: 9,
      sizeAttenuation: false,
      depthTest: false,
      transparent: true,
    }),
  );
  points.renderOrder = 6;
  points.frustumCulled = false;
  return points;
}

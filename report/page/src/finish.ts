// Cusps and steps on the surface: each place of a line as a dot of the colour of its height.
import { BufferAttribute, BufferGeometry, GLSL3, type IUniform, Points, ShaderMaterial } from 'three';
import type { About, Bulk, Setup, Triple } from './data.ts';
import { categories, rgb } from './palette.ts';
import { setupFromStock } from './scene_data.ts';
import { finishFragment, finishVertex } from './shaders.ts';

// Of the heights areas are told above, lowest first.
export const finishColours = [4, 2, 1, 5].map((k) => categories[k]);

export class FinishMarks {
  readonly points: Points;
  private readonly places: Float32Array; // mm, setup frame
  private readonly heights: Float32Array;
  private readonly made: Uint32Array; // by which motion of the whole job, rising

  constructor(about: About, setup: Setup, bulk: Bulk, section: IUniform) {
    const { at, height, made } = about.finish_places!;
    const steps = about.finish!.above.map((a) => a.height);
    this.heights = bulk.floats(height);
    this.made = bulk.whole(made);
    const places = (this.places = bulk.floats(at)),
      colours = new Uint8Array(places.length);
    this.heights.forEach((mm, i) => {
      places.set(setupFromStock(setup, places, 3 * i), 3 * i);
      const step = Math.max(0, steps.filter((s) => mm >= s).length - 1);
      colours.set(rgb(finishColours[step]), 3 * i);
    });
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(places, 3));
    geometry.setAttribute('colour', new BufferAttribute(colours, 3, true));
    const uniforms = { section, wide: { value: 2 * about.voxel }, scale: { value: 1 } };
    this.points = new Points(
      geometry,
      new ShaderMaterial({ glslVersion: GLSL3, vertexShader: finishVertex, fragmentShader: finishFragment, uniforms }),
    );
    this.points.frustumCulled = false;
    this.points.visible = false;
  }

  // done: the last motion of the whole job that is finished.
  upTo(done: number) {
    const next = this.made.findIndex((m) => m > done);
    this.points.geometry.setDrawRange(0, next < 0 ? this.made.length : next);
  }
  // pixels: of a millimetre a millimetre before the eye.
  scaled(pixels: number) {
    (this.points.material as ShaderMaterial).uniforms.scale.value = pixels;
  }
  // How high what is drawn within half a millimetre of a place stands up, mm; null: nothing does.
  near(at: Triple): number | null {
    let [best, height] = [0.5, null as number | null];
    for (let i = 0; i < this.points.geometry.drawRange.count && i < this.made.length; i++) {
      const away = Math.hypot(...at.map((v, k) => v - this.places[3 * i + k]));
      if (away < best) [best, height] = [away, this.heights[i]];
    }
    return height;
  }
}

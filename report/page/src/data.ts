// The data the C++ side writes (report/page/build), read back. docs/page.md describes the format;
// what result.json says too has its names (docs/result-keys.md).
export interface ColumnRef {
  at: number;
  bytes: number;
  count: number;
  parts: number;
  quantum: number;
}
export interface TextRef {
  at: number;
  bytes: number;
}
export interface Said {
  what: string;
  why: string;
}
export interface Fact {
  label: string;
  value: string;
}
export type Pair = [number, number];
export type Triple = [number, number, number];
export type Row = [number, number, number, number];

export interface Tool {
  number: number;
  name: string;
  diameter: number;
  stickout: number;
  outline: Pair[]; // radius and height above the tip, from the axis up
  cutting_outline: Pair[];
  holder: Pair[]; // diameter and height, from the face up
}

export interface ToolRow {
  number: number;
  time_s: number;
  feed_s: number;
  rapid_s: number;
  change_s: number;
  spin_up_s: number;
  air_s: number;
  moves: number;
  removed_mm3: number;
  peak: Record<
    | 'axial_depth'
    | 'radial_width'
    | 'engagement_deg'
    | 'chip_mm'
    | 'force_n'
    | 'power_w'
    | 'bend_mm'
    | 'force_low_n'
    | 'force_high_n'
    | 'power_low_w'
    | 'power_high_w'
    | 'line',
    number
  >;
  stickout: number;
  stickout_needed: number;
  clear_by: string;
  speeds: number[]; // 1/min
  feeds: number[]; // mm/min
  first_at: Triple | null; // where it stands before it first feeds, setup frame
  lowest: number | null; // of its tip, setup frame
}

export interface SurfaceRef {
  vertices: ColumnRef;
  triangles: ColumnRef;
  made_by: ColumnRef;
  deviation: ColumnRef | null;
}
export type MeshRef = Pick<SurfaceRef, 'vertices' | 'triangles'>;
type MotionColumns =
  | 'kind'
  | 'plane'
  | 'start'
  | 'end'
  | 'centre'
  | 'sweep'
  | 'file'
  | 'line'
  | 'tool'
  | 'start_s'
  | 'time_s'
  | 'feed'
  | 'rpm'
  | 'removed_mm3'
  | 'axial_depth'
  | 'radial_width'
  | 'engagement_deg'
  | 'removal_mm3_min'
  | 'chip_mm'
  | 'force_n'
  | 'power_w'
  | 'bend_mm'
  | 'sense'
  | 'speed';
export type MotionRefs = Record<MotionColumns, ColumnRef> & { count: number };

// Sections of the piece before the setup, setup frame: plan x, y.. at heights, front x, z.. at a y.
export interface PieceSection {
  at: number;
  contours: number[][];
}
export interface Setup {
  name: string;
  program: string;
  time_s: number;
  time_low_s: number;
  time_high_s: number;
  removed_mm3: number;
  zero_in_stock: Triple;
  zero_touches: { text: string; from_low: Triple; on_material: boolean; surface: number };
  stock_from_setup: [Row, Row, Row];
  tools: ToolRow[];
  tool_order?: number[]; // numbers as the program takes them up; one may come back
  turns: { about: 'x' | 'y' | 'z'; degrees: number }[];
  located_by: string;
  first_id: number; // of its first motion over the whole job
  inches: boolean;
  files: { name: string; text: TextRef }[];
  fixtures: { name: string; low: Triple; high: Triple; mesh: MeshRef | null }[];
  motions: MotionRefs;
  drawing: { plan: PieceSection[]; front: PieceSection[]; low: Triple; high: Triple } | null;
  before: SurfaceRef | null;
  after: SurfaceRef | null;
}

export interface Finding {
  kind: string;
  level: string;
  setup: number; // index; -1: none
  tool: number;
  file: string;
  line: number;
  at: Triple;
  value: number;
  limit: number;
  unit: string;
  text: string;
  detail?: string;
  remedy: string;
  count: number;
  cause?: number; // which of the causes it goes with
}

// What lies behind findings: docs/causes.md.
export interface Cause {
  kind: string;
  setup: string;
  text: string;
  remedy: string;
  explains: number;
  remains: number;
}

// What a stretch of the program or a change would give back, s; change by its word in result.json.
export interface TimeUse {
  stretches: {
    setup: string;
    line: number;
    last_line: number;
    binds: string;
    saves_s: Record<string, number>;
  }[];
  savings: {
    change: string;
    saves_s: number;
    alone_s: number;
    roughing_s: number; // of saves_s, with the finish as it is
    text: string;
  }[];
  saves_s: number;
}

export interface Grid {
  title: string;
  note: string;
  columns: string[];
  rows: string[][];
}
// The cut of a tool that comes nearest to the depth at which it may sing, and where that depth lies.
export interface Stability {
  title: string;
  setup: number;
  tool: number;
  line: number;
  rpm: number; // 1/min
  depth: number; // mm
  limit: { low: number; likely: number; high: number }; // mm: below with 10, 50 and 90 %
  slowest: number; // 1/min, of the spindle
  fastest: number;
  in_step: number[]; // 1/min, teeth in step with the pitch heard
  note: string;
}
export interface About {
  title: string;
  verdict: string;
  version: string;
  made?: string; // when the page was written
  watched?: string; // which of the pages of `watch` this is; none: it looks for no newer one
  voxel: number;
  inputs: { name: string; digest: string; bytes: number }[];
  facts: Fact[];
  checked: Said[];
  not_checked: Said[];
  assumed: string[];
  cautions: string[];
  by_hand: string[];
  stock_size: Triple;
  deviation_end: number;
  deviation_grey: number;
  tolerance?: { gouge: number; excess: number }; // mm, of the part
  part_field?: { origin: Triple; step: number; count: Triple; values: ColumnRef };
  part_mesh?: MeshRef & { within: number }; // mm, stock coordinates; what it is off by where it is not the part's own mesh
  finish_places?: { at: ColumnRef; height: ColumnRef; made: ColumnRef; of: number };
  tools: Tool[];
  setups: Setup[];
  causes: Cause[];
  findings: Finding[];
  stability: Stability[];
  flip: { text: string; facts: Fact[]; seam: number[]; outward: number[] } | null;
  comparisons?: Grid[];
  holding: Grid[]; // bridges, a table a setup
  finish?: Finish;
  time_use?: TimeUse;
  quote?: Grid[];
  others?: OtherRun[];
}

// A result that is shown beside this one. Its page's data stands in about-1 and bulk-1, about-2.. in the order of
// the list; missing says why there is none.
export interface OtherRun {
  name: string;
  missing?: string;
}

// A cusp or step, and the two motions that made it.
export interface FinishLine {
  between: string;
  step: boolean;
  length: number; // mm
  height: number; // mm
  at: Triple; // mm, stock coordinates
  made_by: { setup: string; tool: number; file: string; line: number }[];
}

export interface Finish {
  looked_at: boolean;
  highest: number; // mm
  length: number; // mm
  line_count: number;
  above: { height: number; area_mm2: number }[];
  lines: FinishLine[];
}

export interface Surface {
  vertices: Float32Array;
  triangles: Uint32Array;
  madeBy: Uint32Array;
  deviation: Float32Array | null;
}

// Result and page say different things of the same setups and tools: here each is one object.
export function readAbout(id = 'about'): About {
  const { result, ...page } = JSON.parse(document.getElementById(id)!.textContent!);
  const named = result.setups.map((s: Setup) => s.name);
  return {
    ...page,
    voxel: result.job.voxel,
    inputs: result.inputs ?? [],
    not_checked: result.not_checked,
    assumed: result.assumed,
    causes: result.causes ?? [],
    finish: result.finish,
    time_use: result.time_use,
    setups: page.setups.map((setup: Setup, s: number) => ({
      ...result.setups[s],
      ...setup,
      tools: result.setups[s].tools.map((t: ToolRow, i: number) => ({ ...t, ...setup.tools[i] })),
    })),
    findings: result.findings.map((f: { setup: string }) => ({
      ...f,
      setup: named.indexOf(f.setup),
    })),
  };
}

// Base64 to bytes, in pieces: one atob over several megabytes would hold three copies at once.
function fromBase64(text: string): Uint8Array<ArrayBuffer> {
  const clean = text.trim();
  const padding = clean.endsWith('==') ? 2 : clean.endsWith('=') ? 1 : 0;
  const out = new Uint8Array((clean.length / 4) * 3 - padding);
  const piece = 1 << 18;
  for (let i = 0, at = 0; i < clean.length; i += piece) {
    const bytes = atob(clean.slice(i, i + piece));
    for (let k = 0; k < bytes.length; k++) out[at++] = bytes.charCodeAt(k);
  }
  return out;
}

export class Bulk {
  constructor(private readonly bytes: Uint8Array) {}

  static async read(id = 'bulk'): Promise<Bulk> {
    const packed = fromBase64(document.getElementById(id)!.textContent!);
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream('deflate'));
    return new Bulk(new Uint8Array(await new Response(stream).arrayBuffer()));
  }

  // Tuples side by side, as a graphics library wants them.
  private decode<T extends Float32Array | Float64Array | Uint32Array | Uint8Array>(
    ref: ColumnRef,
    out: T,
  ): T {
    const bytes = this.bytes;
    let at = ref.at;
    for (let part = 0; part < ref.parts; part++) {
      let value = 0;
      for (let i = 0; i < ref.count; i++) {
        let zigzag = 0,
          shift = 1,
          byte: number;
        do {
          byte = bytes[at++];
          zigzag += (byte & 127) * shift;
          shift *= 128;
        } while (byte & 128);
        value += zigzag % 2 ? -(zigzag + 1) / 2 : zigzag / 2;
        out[i * ref.parts + part] = value * ref.quantum;
      }
    }
    return out;
  }
  doubles(ref: ColumnRef) {
    return this.decode(ref, new Float64Array(ref.count * ref.parts));
  }
  floats(ref: ColumnRef) {
    return this.decode(ref, new Float32Array(ref.count * ref.parts));
  }
  whole(ref: ColumnRef) {
    return this.decode(ref, new Uint32Array(ref.count * ref.parts));
  }
  bytesOf(ref: ColumnRef) {
    return this.decode(ref, new Uint8Array(ref.count * ref.parts));
  }
  text(ref: TextRef) {
    return new TextDecoder().decode(this.bytes.subarray(ref.at, ref.at + ref.bytes));
  }
  surface(ref: SurfaceRef | null): Surface | null {
    if (!ref) return null;
    return {
      vertices: this.floats(ref.vertices),
      triangles: this.whole(ref.triangles),
      madeBy: this.whole(ref.made_by),
      deviation: ref.deviation ? this.floats(ref.deviation) : null,
    };
  }
}

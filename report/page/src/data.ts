// The data the C++ side writes (report/page_data), read back. docs/page.md describes the format.
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

export interface Tool {
  number: number;
  name: string;
  shape: string;
  diameter: number;
  stickout: number;
  flute_length: number;
  flutes: number;
  outline: Pair[];
  cutting_outline: Pair[];
  holder: Pair[];
}

export interface ToolRow {
  number: number;
  time_s: number;
  feed_s: number;
  rapid_s: number;
  dwell_s: number;
  change_s: number;
  spin_up_s: number;
  air_s: number;
  feed_mm: number;
  rapid_mm: number;
  moves: number;
  removed_mm3: number;
  peak: {
    axial_depth: number;
    radial_width: number;
    engagement_deg: number;
    removal_mm3_min: number;
    chip_mm: number;
    force_n: number;
    power_w: number;
    bend_mm: number;
    force_band_n: [number, number];
    power_band_w: [number, number];
    line: number;
  };
  reach_used: number;
  stickout_needed: number;
  clear_by: string;
  speeds: string;
}

export interface SurfaceRef {
  vertices: ColumnRef;
  triangles: ColumnRef;
  made_by: ColumnRef;
  deviation: ColumnRef | null;
}
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
  | 'sense';
export type MotionRefs = Record<MotionColumns, ColumnRef> & { count: number };

export interface Setup {
  name: string;
  program: string;
  zero_in_words: string;
  turn_in_words: string;
  located_by: string;
  zero_in_stock: Triple;
  stock_from_setup: number[];
  time_s: number;
  naive_s: number;
  removed_mm3: number;
  stock_left_mm3: number;
  first_id: number;
  tools: ToolRow[];
  files: { name: string; text: TextRef }[];
  fixtures: { name: string; low: Triple; high: Triple }[];
  motions: MotionRefs;
  before: SurfaceRef | null;
  after: SurfaceRef | null;
}

export interface Finding {
  kind: string;
  level: string;
  setup: number;
  tool: number;
  file: string;
  line: number;
  at: Triple;
  value: number;
  limit: number;
  unit: string;
  text: string;
  detail: string;
  count: number;
  motion: number;
}

export interface Grid {
  title: string;
  note: string;
  columns: string[];
  rows: string[][];
}
export interface About {
  title: string;
  verdict: string;
  version: string;
  errors: number;
  warnings: number;
  notes: number;
  facts: Fact[];
  checked: Said[];
  not_checked: Said[];
  assumed: Said[];
  cautions: string[];
  by_hand: string[];
  stock_size: Triple;
  stock_is_box: boolean;
  voxel: number;
  deviation_end: number;
  deviation_grey: number;
  tools: Tool[];
  setups: Setup[];
  findings: Finding[];
  stability: { title: string; rpm: number[]; limit_depth: number[]; used: Pair[]; note: string }[];
  flip?: {
    text: string;
    facts: Fact[];
    seam: number[];
    outward: number[];
  };
  comparisons: Grid[];
  holding: Grid[]; // bridges, a table a setup
  quote: Grid[];
}

export interface Surface {
  vertices: Float32Array;
  triangles: Uint32Array;
  madeBy: Uint32Array;
  deviation: Float32Array | null;
}

export function readAbout(): About {
  return JSON.parse(document.getElementById('about')!.textContent!) as About;
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

  static async read(): Promise<Bulk> {
    const packed = fromBase64(document.getElementById('bulk')!.textContent!);
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

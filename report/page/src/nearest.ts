// How far places are from a closed surface of triangles whose faces look outwards: triangles by cells of space,
// cells about a place shell by shell.

export class Nearest {
  private readonly low: number[] = [];
  private readonly count: number[] = [];
  private readonly cell: number;
  private readonly first: Uint32Array; // of each cell's triangles
  private readonly list: Uint32Array;
  private readonly seen: Uint32Array; // the look at which a triangle was last measured
  private look = 0;
  private squared = 0; // of the nearest so far, and which side of it the place is on
  private side = 0;
  nearest = -1; // triangle, of the last look

  // reach: mm; what is further away is not looked for.
  constructor(
    private readonly v: Float32Array,
    private readonly t: Uint32Array,
    private readonly reach: number,
  ) {
    const high: number[] = [];
    for (let a = 0; a < 3; a++) {
      let [least, most] = [Infinity, -Infinity];
      for (let i = a; i < v.length; i += 3) {
        if (v[i] < least) least = v[i];
        if (v[i] > most) most = v[i];
      }
      this.low.push(least);
      high.push(most);
    }
    const size = high.map((h, a) => h - this.low[a]);
    // About as wide as some triangles are; a few million cells at most.
    const area = 2 * (size[0] * size[1] + size[1] * size[2] + size[2] * size[0]);
    const volume = size[0] * size[1] * size[2];
    this.cell = Math.max(3 * Math.sqrt((3 * area) / t.length), Math.cbrt(volume / 3e6), reach / 6, 1e-3);
    for (const long of size) this.count.push(Math.floor(long / this.cell) + 1);
    this.first = new Uint32Array(this.count[0] * this.count[1] * this.count[2] + 1);
    this.seen = new Uint32Array(t.length / 3);
    this.over((c) => this.first[c + 1]++);
    for (let c = 1; c < this.first.length; c++) this.first[c] += this.first[c - 1];
    this.list = new Uint32Array(this.first[this.first.length - 1]);
    const filled = this.first.slice();
    this.over((c, k) => (this.list[filled[c]++] = k));
  }

  private cellOf(value: number, axis: number): number {
    return Math.max(0, Math.min(this.count[axis] - 1, Math.floor((value - this.low[axis]) / this.cell)));
  }
  private over(each: (cell: number, triangle: number) => void) {
    const { v, t, count } = this;
    const from = [0, 0, 0],
      to = [0, 0, 0];
    for (let k = 0; k < t.length; k += 3) {
      for (let a = 0; a < 3; a++) {
        const p = v[3 * t[k] + a],
          q = v[3 * t[k + 1] + a],
          r = v[3 * t[k + 2] + a];
        from[a] = this.cellOf(Math.min(p, q, r), a);
        to[a] = this.cellOf(Math.max(p, q, r), a);
      }
      for (let z = from[2]; z <= to[2]; z++)
        for (let y = from[1]; y <= to[1]; y++)
          for (let x = from[0]; x <= to[0]; x++) each((z * count[1] + y) * count[0] + x, k / 3);
    }
  }

  // mm, negative inside; null: further than reach.
  at(x: number, y: number, z: number): number | null {
    const { cell, low, count } = this;
    this.look++;
    this.squared = Infinity;
    // Of a place outside of all cells too: the block of cells is about where it is.
    const i = Math.floor((x - low[0]) / cell),
      j = Math.floor((y - low[1]) / cell),
      k = Math.floor((z - low[2]) / cell);
    const inner = Math.min(
      x - low[0] - i * cell, low[0] + (i + 1) * cell - x,
      y - low[1] - j * cell, low[1] + (j + 1) * cell - y,
      z - low[2] - k * cell, low[2] + (k + 1) * cell - z,
    );
    for (let r = 0; ; r++) {
      for (let c = Math.max(0, k - r); c <= Math.min(count[2] - 1, k + r); c++)
        for (let b = Math.max(0, j - r); b <= Math.min(count[1] - 1, j + r); b++) {
          const rim = Math.abs(c - k) === r || Math.abs(b - j) === r;
          const row = (c * count[1] + b) * count[0];
          for (let a = i - r; a <= i + r; a += rim ? 1 : 2 * r || 1)
            if (a >= 0 && a < count[0]) this.inCell(row + a, x, y, z);
        }
      // All that is nearer than the rim of the block has been measured.
      const told = inner + r * cell;
      if (told * told >= this.squared || told >= this.reach) break;
    }
    const away = Math.sqrt(this.squared);
    return away <= this.reach ? (this.side < 0 ? -away : away) : null;
  }

  // From one triangle alone.
  of(triangle: number, x: number, y: number, z: number): number {
    this.squared = Infinity;
    this.measure(3 * triangle, x, y, z);
    return Math.sqrt(this.squared);
  }

  private inCell(c: number, x: number, y: number, z: number) {
    for (let n = this.first[c]; n < this.first[c + 1]; n++) {
      const k = this.list[n];
      if (this.seen[k] === this.look) continue;
      this.seen[k] = this.look;
      this.measure(3 * k, x, y, z);
    }
  }

  // The nearest place of a triangle a, b, c by the regions of its corners, edges and face (C. Ericson, Real-Time
  // Collision Detection, 2005, 5.1.5). Where an edge or corner is nearest, several triangles are as near: the one
  // that is seen most squarely says on which side the place is.
  private measure(k: number, x: number, y: number, z: number) {
    const { v, t } = this,
      a = 3 * t[k],
      b = 3 * t[k + 1],
      c = 3 * t[k + 2];
    const ux = v[b] - v[a], uy = v[b + 1] - v[a + 1], uz = v[b + 2] - v[a + 2];
    const wx = v[c] - v[a], wy = v[c + 1] - v[a + 1], wz = v[c + 2] - v[a + 2];
    const px = x - v[a], py = y - v[a + 1], pz = z - v[a + 2];
    const d1 = ux * px + uy * py + uz * pz,
      d2 = wx * px + wy * py + wz * pz,
      uu = ux * ux + uy * uy + uz * uz,
      uw = ux * wx + uy * wy + uz * wz,
      ww = wx * wx + wy * wy + wz * wz;
    const d3 = d1 - uu, d4 = d2 - uw, d5 = d1 - uw, d6 = d2 - ww;
    const va = d3 * d6 - d5 * d4, vb = d5 * d2 - d1 * d6, vc = d1 * d4 - d3 * d2;
    let s = 0, r = 0; // a + s * u + r * w
    if (d1 <= 0 && d2 <= 0) s = r = 0;
    else if (d3 >= 0 && d4 <= d3) s = 1;
    else if (d6 >= 0 && d5 <= d6) r = 1;
    else if (vc <= 0 && d1 >= 0 && d3 <= 0) s = d1 / (d1 - d3);
    else if (vb <= 0 && d2 >= 0 && d6 <= 0) r = d2 / (d2 - d6);
    else if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
      r = (d4 - d3) / (d4 - d3 + d5 - d6);
      s = 1 - r;
    } else {
      s = vb / (va + vb + vc);
      r = vc / (va + vb + vc);
    }
    const qx = px - s * ux - r * wx, qy = py - s * uy - r * wy, qz = pz - s * uz - r * wz;
    const away = qx * qx + qy * qy + qz * qz;
    const tie = 1e-9 + 1e-6 * away;
    if (!(away <= this.squared + tie)) return;
    const nx = uy * wz - uz * wy, ny = uz * wx - ux * wz, nz = ux * wy - uy * wx;
    const long = Math.sqrt(nx * nx + ny * ny + nz * nz);
    if (!(long > 0)) return;
    const side = (nx * qx + ny * qy + nz * qz) / long;
    if (away < this.squared - tie || Math.abs(side) > Math.abs(this.side)) this.side = side;
    if (away >= this.squared) return;
    this.squared = away;
    this.nearest = k / 3;
  }
}

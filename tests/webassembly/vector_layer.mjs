// Holds every operation of the vector layer, as WebAssembly, to JavaScript's own arithmetic on its lane. The rival is
// ECMAScript's Math.fround: rounding a double's sum, difference, product, quotient or root to single precision is the
// single-precision result, as a double has more than twice its digits.
import fs from 'node:fs';

const { instance } = await WebAssembly.instantiate(fs.readFileSync(process.argv[2]), {});
const e = instance.exports;
const lanes = 16;
const rows = 30;
const f = Math.fround;
let seed = 12345;
const random = () => (seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0) / 4294967296;
const most = 3.4028234663852886e38;
const special = [0, -0, 1, -1, most, -most, f(1e-42), f(-1e-42), 3, -2, Infinity, -Infinity, NaN];
const any = () =>
  random() < 0.25 ? special[Math.floor(random() * special.length)] : f(2 ** (random() * 60 - 30) * (random() < 0.5 ? -1 : 1));
const larger = (a, b) => (a > b ? a : b);
const smaller = (a, b) => (a < b ? a : b);
const held = (a) => smaller(larger(a, -1e6), 1e6);
const as_float = new Float32Array(1);
const as_bits = new Uint32Array(as_float.buffer);
const bits = (value) => {
  as_float[0] = value;
  return Number.isNaN(value) ? 0x7fc00000 : as_bits[0]; // which of several NaNs is no part of IEEE 754
};

let checked = 0;
const wrong = [];
for (let round = 0; round < 5000; ++round) {
  const memory = e.memory.buffer;
  const x = new Float32Array(memory, e.x(), lanes);
  const y = new Float32Array(memory, e.y(), lanes);
  const n = new Int32Array(memory, e.n(), lanes);
  for (let k = 0; k < lanes; ++k) {
    x[k] = any();
    y[k] = random() < 0.2 ? x[k] : any();
    n[k] = Math.floor(random() * 2000) - 1000;
  }
  e.run();
  const numbers = new Uint32Array(memory, e.results(), lanes * rows);
  const floats = new Float32Array(memory, e.results(), lanes * rows);
  let least = held(x[0]);
  for (const a of x) least = smaller(held(a), least);
  for (let k = 0; k < lanes; ++k) {
    const [a, b, i] = [x[k], y[k], n[k]];
    const size = larger(a, -a);
    const wanted = [
      ...[f(a + b), f(a - b), f(a * b), f(a / b), -a, larger(a, b), smaller(a, b), size].map(bits),
      ...[f(Math.sqrt(size)), smaller(larger(a, -2), 3), a < b ? a : b, f(2 - a), x[0]].map(bits),
      ...[a < b, a <= b, a > b, a >= b, a === b, a !== b].map(Number),
      ...[a < b && a !== b, a < b || a === b, !(a < b), i === n[1], i !== n[1]].map(Number),
      ...[i + 5, i - 7, a < b ? i : 0, a < b ? i : -1, Math.trunc(held(a))].map((v) => v >>> 0),
      bits(f(f(f(Math.trunc(held(a)) + i) + least) + held(x[3]))),
    ];
    if (wanted.length !== rows) throw new Error(`${wanted.length} rows, not ${rows}`);
    wanted.forEach((want, row) => {
      const at = lanes * row + k;
      const got = row < 13 || row === rows - 1 ? bits(floats[at]) : numbers[at];
      ++checked;
      if (got !== want) wrong.push(`operation ${row}, lane ${k}, round ${round}: a ${a}, b ${b}, n ${i}: ${got}, not ${want}`);
    });
  }
}
console.log(wrong.slice(0, 5).join('\n'));
console.log(`webassembly: ${checked} results, ${wrong.length} wrong`);
process.exit(wrong.length === 0 ? 0 : 1);

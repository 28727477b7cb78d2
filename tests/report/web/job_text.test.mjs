// The form's reading and changing of a job's text. What TOML 1.0 says of comments and quotes is the rule; what a program
// says is never more than text.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { commentAt, readJobText, shownValue, typedValue, withKey, withoutMark, withoutTable, withTable, withValue } from './job_text.mjs';
import { withBox, withNewBox, withQuarter, withZeroMoved } from './layout_text.mjs';
import { archive, crc32 } from './save.mjs';

const job = `name = "door # pull" # a name
[stock]
size = [160, 60, 32]     #? below-stock, over-depth: measure it
[[tools]]
number = 1
name = 'it''s'
[[tools]]
number = 2
holder = [
  [25, 20],  # of two lines
]
flutes = 2 #? chip-thick: 2 is usual
#? fixture-contact: clamps are not known
[tools.limits]
axial_depth = 2
`;

test('values, their tables and marks are found', () => {
  const read = readJobText(job);
  const of = (table, nth, key) => read.fields.find((f) => f.table === table && f.nth === nth && f.key === key);
  assert.equal(of('', 0, 'name').value, '"door # pull"');
  assert.equal(of('stock', 0, 'size').value, '[160, 60, 32]');
  assert.equal(of('stock', 0, 'size').mark.kinds, 'below-stock, over-depth');
  assert.equal(of('stock', 0, 'size').mark.why, 'measure it');
  assert.equal(of('tools', 1, 'flutes').mark.why, '2 is usual');
  assert.equal(of('tools', 1, 'holder').value, '[\n  [25, 20],  # of two lines\n]');
  assert.equal(of('tools.limits', 0, 'axial_depth').value, '2');
  assert.deepEqual(read.marks.map((m) => m.why), ['clamps are not known']);
});

test('a mark inside quotes or a longer text is none', () => {
  const read = readJobText('a = "#? x: y"\nb = """\n#? c: d\n"""\nc = 1\n');
  assert.deepEqual(read.marks, []);
  assert.deepEqual(read.fields.map((f) => [f.key, f.mark]), [['a', undefined], ['b', undefined], ['c', undefined]]);
});

test('one value is changed, and nothing else', () => {
  const field = readJobText(job).fields.find((f) => f.key === 'flutes');
  const changed = withValue(job, field, '3', true);
  assert.equal(changed, job.replace('flutes = 2 #? chip-thick: 2 is usual', 'flutes = 3'));
  const kept = withValue(job, field, '2', true);
  assert.equal(kept, job.replace('flutes = 2 #? chip-thick: 2 is usual', 'flutes = 2'));
  const name = readJobText(job).fields.find((f) => f.key === 'name');
  assert.equal(withValue(job, name, name.value, false), job);
  const alone = readJobText(job).marks[0];
  assert.equal(withoutMark(job, alone), job.replace('#? fixture-contact: clamps are not known\n', ''));
});

test('a key is added at the end of its own table', () => {
  assert.match(withKey(job, 'tools', 0, 'stickout', '30'), /name = 'it''s'\nstickout = 30\n\[\[tools\]\]/);
  assert.match(withKey(job, 'tools', 1, 'stickout', '30'), /stickout = 30\n#\? fixture-contact/);
  assert.match(withKey(job, '', 0, 'units', '"mm"'), /^name = .*\nunits = "mm"\n\[stock\]/);
});

test('a value of several lines is changed whole', () => {
  const holder = readJobText(job).fields.find((f) => f.key === 'holder');
  assert.equal(withValue(job, holder, '[[25, 20], [40, 30]]', false), job.replace('[\n  [25, 20],  # of two lines\n]', '[[25, 20], [40, 30]]'));
});

const sides = `units = "mm"
[[setups]]
name = "A"
zero = { on = "blank", x = "centre", offset = [1, 2.5, -3] } # touched off
[[setups.fixtures]]
name = "vice, { left"
box = [[0, 0, 0], [1, 1, 1]]
[[setups]]
name = "B"
turn = [{ about = "y", degrees = 180 }]
zero = { at = [10, 20, 0] }
fixtures = [{ name = "a } b", box = [[0, 0, 0], [1, 2, 3]] }, { name = "c", box = [[0, 0, 0], [4, 4, 4]] }]
[part]
mesh = "p.stl"
`;
const unturned = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0]];

test('tables on one line are taken apart, each with the setup it belongs to', () => {
  const read = readJobText(sides);
  assert.deepEqual(
    read.tables.map((t) => [t.table, t.nth, t.top]),
    [['', 0, 0], ['setups', 0, 0], ['setups.zero', 0, 0], ['setups.fixtures', 0, 0], ['setups', 1, 1], ['setups.turn', 0, 1], ['setups.zero', 1, 1], ['setups.fixtures', 1, 1], ['setups.fixtures', 2, 1], ['part', 0, 0]],
  );
  for (const f of read.fields) assert.equal(sides.slice(f.from, f.to), f.value);
  const x = read.fields.find((f) => f.table === 'setups.zero' && f.key === 'x');
  assert.equal(withValue(sides, x, '"min"', true), sides.replace('"centre"', '"min"'));
});

test('the zero is moved in its own setup, from wherever it was given', () => {
  assert.equal(withZeroMoved(sides, 0, [0.5, 0, -1], unturned), sides.replace('[1, 2.5, -3]', '[1.5, 2.5, -4]'));
  // Half round about y: the machine's x is the stock's other way, so is its z.
  assert.equal(withZeroMoved(sides, 1, [1, 2, 3], [[-1, 0, 0, 0], [0, 1, 0, 0], [0, 0, -1, 0]]), sides.replace('[10, 20, 0]', '[9, 22, -3]'));
  const without = sides.replace(', offset = [1, 2.5, -3]', '');
  assert.equal(withZeroMoved(without, 0, [1, 0, 0], unturned), without.replace('x = "centre" }', 'x = "centre", offset = [1, 0, 0] }'));
  const none = '[[setups]]\nname = "A"\n';
  assert.equal(withZeroMoved(none, 0, [1, 0, 0], unturned), `${none.trimEnd()}\nzero = { offset = [1, 0, 0] }\n`);
  // An inch file's lengths are inches.
  assert.equal(withZeroMoved('units = "inch"\n[[setups]]\nzero = { offset = [1, 0, 0] }\n', 0, [25.4, 0, 12.7], unturned), 'units = "inch"\n[[setups]]\nzero = { offset = [2, 0, 0.5] }\n');
});

test('the work is turned by quarters, about the same axis in one turn', () => {
  assert.match(withQuarter(sides, 1, 'y'), /turn = \[\{ about = "y", degrees = 270 \}\]/);
  assert.match(withQuarter(sides, 1, 'x'), /turn = \[\{ about = "y", degrees = 180 \}, \{ about = "x", degrees = 90 \}\]/);
  assert.match(withQuarter(sides, 0, 'z'), /zero = .*\nturn = \[\{ about = "z", degrees = 90 \}\]\n\[\[setups\.fixtures\]\]/);
});

test('clamps and supports: added, moved, taken away, in their own setup', () => {
  const box = [[5, 0, 0], [4, 6, 7]];
  assert.match(withNewBox(sides, 'setups.fixtures', 0, box), /\[\[setups\.fixtures\]\]\nname = "clamp 2"\nbox = \[\[4, 0, 0\], \[5, 6, 7\]\]\n\[\[setups\]\]\nname = "B"/);
  assert.match(withNewBox(sides, 'setups.fixtures', 1, box), /\{ name = "c", box = \[\[0, 0, 0\], \[4, 4, 4\]\] \}, \{ name = "clamp 3", box = \[\[4, 0, 0\], \[5, 6, 7\]\] \}\]/);
  assert.match(withNewBox(sides, 'part.supports', 0, box), /mesh = "p\.stl"\n\[\[part\.supports\]\]\nbox = /);
  assert.equal(withBox(sides, 'setups.fixtures', 1, 1, box), sides.replace('[4, 4, 4]', '@').replace('[[0, 0, 0], @]', '[[4, 0, 0], [5, 6, 7]]'));
  const of = (nth) => readJobText(sides).tables.filter((t) => t.table === 'setups.fixtures')[nth];
  assert.equal(withoutTable(sides, of(0)), sides.replace('[[setups.fixtures]]\nname = "vice, { left"\nbox = [[0, 0, 0], [1, 1, 1]]\n', ''));
  assert.match(withoutTable(sides, of(1)), /fixtures = \[\{ name = "c", /);
  assert.match(withoutTable(sides, of(2)), /fixtures = \[\{ name = "a \} b", box = \[\[0, 0, 0\], \[1, 2, 3\]\] \}\]/);
  assert.match(withTable(sides, 'setups', 2, [['name', '"C"']]), /\]\]\n?.*\n\[\[setups\]\]\nname = "C"\n\[part\]/s);
});

test('a bracket that is never closed hides nothing below it', () => {
  const read = readJobText('a = [[1, 2]\n[stock]\nsize = 3\nname = "x\nb = {c = \nd = 1\n');
  assert.deepEqual(read.fields.map((f) => [f.table, f.key, f.value]), [['', 'a', '[[1, 2]'], ['stock', 'size', '3'], ['stock', 'name', '"x'], ['stock', 'b', '{c ='], ['stock', 'd', '1']]);
});

// Seeded texts with quotes, backslashes and number signs: what is typed comes back from the file's text.
test('what is typed as a text is what stands in the file', () => {
  let seed = 7;
  const random = (n) => (seed = (Math.imul(seed, 1103515245) + 12345) >>> 0) % n;
  for (let round = 0; round < 2000; ++round) {
    const typed = Array.from({ length: random(8) }, () => 'a"\'\\#= é'[random(8)]).join('');
    const written = typedValue(typed, true);
    const line = `k = ${written} # c`;
    assert.equal(commentAt(line), line.lastIndexOf('# c'), `${round}: ${line}`);
    if (!/["\\]/.test(typed) || !typed.includes("'")) assert.equal(shownValue(written), typed, `${round}: ${written}`);
    else assert.equal(JSON.parse(written), typed);
  }
});

test('the archive is one that other programs read', () => {
  // ISO 3309's check value of the digits 1 to 9.
  assert.equal(crc32(new TextEncoder().encode('123456789')), 0xcbf43926);
  const files = new Map([
    ['result.json', new TextEncoder().encode('{"a": 1}')],
    ['programs/ä.nc', new Uint8Array(70000).map((_, i) => i * 7)],
    ['empty.txt', new Uint8Array(0)],
  ]);
  const folder = mkdtempSync(join(tmpdir(), 'proveout-web-'));
  try {
    writeFileSync(join(folder, 'all.zip'), archive(files));
    execFileSync('unzip', ['-q', 'all.zip', '-d', 'out'], { cwd: folder, env: { ...process.env, LC_ALL: 'C.UTF-8' } });
    for (const [name, bytes] of files) assert.deepEqual(new Uint8Array(readFileSync(join(folder, 'out', name))), bytes);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});

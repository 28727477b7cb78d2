// The form's reading and changing of a job's text. What TOML 1.0 says of comments and quotes is the rule; what a program
// says is never more than text.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { commentAt, readJobText, shownValue, typedValue, withKey, withoutMark, withValue } from './job_text.mjs';
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
  assert.equal(of('tools', 1, 'holder'), undefined, 'a value of several lines is left to the text');
  assert.equal(of('tools.limits', 0, 'axial_depth').value, '2');
  assert.deepEqual(read.marks.map((m) => m.why), ['clamps are not known']);
});

test('a mark inside quotes or a longer text is none', () => {
  const read = readJobText('a = "#? x: y"\nb = """\n#? c: d\n"""\nc = 1\n');
  assert.deepEqual(read.marks, []);
  assert.deepEqual(read.fields.map((f) => [f.key, f.mark]), [['a', undefined], ['c', undefined]]);
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

// The package for Node is held to the native program: the same words on standard output, the same messages, the same exit
// status and the same bytes in the same files. The rival is the native build, which GCC compiles and the C++ tests hold.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { test } from 'node:test';

const { PROVEOUT_NATIVE: native, PROVEOUT_NODE_COMMAND: node, PROVEOUT_ROOT: root } = process.env;
const demo = join(root, 'fixtures/door-pull');

function run(program, words, folder) {
  const ended = spawnSync(program, words, { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 28 });
  return { status: ended.status, out: ended.stdout, err: ended.stderr };
}

// Two copies of the files, one for each; what both wrote stands beside them.
function both(files, words, look, settings = {}) {
  const top = mkdtempSync(join(tmpdir(), 'proveout-web-'));
  try {
    const ended = [native, node].map((program, i) => {
      const folder = join(top, String(i), 'here');
      for (const from of files) cpSync(from, join(folder, basename(from)), { recursive: true });
      for (const [name, text] of Object.entries(settings.made ?? {})) writeFileSync(join(folder, name), text);
      return { ...run(program, words, folder), folder };
    });
    const [a, b] = ended;
    assert.equal(b.status, a.status, `status of ${words.join(' ')}: ${b.err}`);
    if (!settings.wordsDiffer) {
      assert.equal(b.out, a.out);
      assert.equal(b.err, a.err);
    }
    look(a, b);
  } finally {
    rmSync(top, { recursive: true, force: true });
  }
}

const same = (a, b, name) => {
  const [x, y] = [a, b].map(({ folder }) => readFileSync(join(folder, name)));
  assert.ok(x.length > 0);
  assert.ok(x.equals(y), `${name} differs`);
};
// Where two values differ: paths and how far apart. The two C libraries' sines and arc cosines differ in their last digits, which
// moves the energy of thousands of samples by 4e-6 (seen: door pull, 0.4 mm; docs/web.md). Other figures may differ by one in
// the last digit that is written; words, lines and counts not at all.
function apart(x, y, path = '') {
  if (typeof x === 'number' && typeof y === 'number')
    return x === y || Math.abs(x - y) <= (/energy_j$/.test(path) ? 1e-5 * Math.abs(x) : 1.5e-6) ? [] : [`${path}: ${x}, ${y}`];
  if (x === null || y === null || typeof x !== 'object' || typeof y !== 'object') return x === y ? [] : [`${path}: ${x}, ${y}`];
  const keys = Object.keys(x);
  if (keys.join() !== Object.keys(y).join()) return [`${path}: ${keys} and ${Object.keys(y)}`];
  return keys.flatMap((key) => apart(x[key], y[key], `${path}/${key}`));
}

// result.json but for `run`: times, threads, memory.
const sameResult = (a, b, name) => {
  const [x, y] = [a, b].map(({ folder }) => JSON.parse(readFileSync(join(folder, name), 'utf8')));
  assert.ok(y.run.peak_memory_mb > 1 && y.run.peak_memory_mb <= 4096, 'memory is that of the heap');
  delete x.run;
  delete y.run;
  assert.deepEqual(apart(x, y), []);
};

const door = ['good.toml', 'faulty.toml', 'good-a.nc', 'good-b.nc', 'faulty-a.nc', 'faulty-b.nc', 'door-pull.stl', 'router.toml']
  .map((name) => join(demo, name))
  .filter(existsSync);

for (const [job, voxel] of [
  ['good.toml', '0.4'],
  ['faulty.toml', '0.4'],
  ['good.toml', '1.5'],
])
  test(`${job} at ${voxel} mm: the same bytes as the native program`, () =>
    both(door, ['run', job, '--voxel', voxel, '--no-html', '--paths', '--section', '10', '--fail-on', 'note', '-o', 'out'], (a, b) => {
      const names = readdirSync(join(a.folder, 'out')).sort();
      assert.deepEqual(readdirSync(join(b.folder, 'out')).sort(), names);
      assert.ok(names.length >= 6, names.join());
      for (const name of names)
        if (name === 'result.json') sameResult(a, b, `out/${name}`);
        else same(a, b, `out/${name}`);
    }));

// The page's data is packed by zlib, the version of which may differ: what it says, not its bytes.
test('the page is the same page, with the same figures', () =>
  both(door, ['run', 'good.toml', '--voxel', '1.5', '--pictures', '--meshes', '-o', 'out'], (a, b) => {
    const about = ({ folder }) => {
      const html = readFileSync(join(folder, 'out/report.html'), 'utf8');
      const data = JSON.parse(/<script type="application\/json" id="about">(.*?)<\/script>/s.exec(html)[1]);
      for (const key of ['made', 'run']) delete data[key];
      return { data, script: /<script>(.*)<\/script>/s.exec(html)[1].length };
    };
    const [x, y] = [about(a), about(b)];
    assert.equal(y.script, x.script);
    assert.deepEqual(Object.keys(y.data), Object.keys(x.data));
    for (const key of ['verdict', 'findings', 'not_checked', 'cautions']) assert.deepEqual(y.data[key], x.data[key], key);
    assert.deepEqual(readdirSync(join(b.folder, 'out')).sort(), readdirSync(join(a.folder, 'out')).sort());
    same(a, b, 'out/setup-1.stl');
    same(a, b, 'out/setup-2.ply');
  }));

const commands = [
  ['run', 'good.toml', '--forecast', '--layout', '-'],
  ['list', 'good-a.nc', '--totals'],
  ['list', 'good-b.nc', '--plain'],
  ['differ', 'good-a.nc', 'good-a.nc'],
  ['differ', 'good-a.nc', 'faulty-a.nc'],
  ['time', 'good-a.nc'],
  ['quote', 'good.toml', '--voxel', '2', '-o', 'out'],
  ['run', 'good.toml', '--material', 'no such material'],
  ['run', 'nothing.toml'],
  ['run', 'good.toml', '--voxel', '200'],
  ['run', 'good.toml', '--no-such-option'],
  ['--version'],
  ['--help'],
  ['manual'],
  [],
];
for (const words of commands)
  test(`proveout ${words.join(' ')}: the same words and status`, () => both(door, words, () => undefined));

test('a job is proposed from programs and mesh, the same file', () =>
  both([join(demo, 'good-a.nc'), join(demo, 'good-b.nc'), join(demo, 'door-pull.stl')],
    ['propose', 'good-a.nc', 'good-b.nc', '--part', 'door-pull.stl', '--threads', '1', '-o', 'job.toml'],
    (a, b) => same(a, b, 'job.toml')));

test('a run that would not fit is refused before it starts, and the message says what it would need', () => {
  const top = mkdtempSync(join(tmpdir(), 'proveout-web-'));
  try {
    for (const from of door) cpSync(from, join(top, basename(from)));
    const ended = run(node, ['run', 'good.toml', '--voxel', '0.01', '-o', 'out'], top);
    assert.equal(ended.status, 2);
    assert.match(ended.err, /would need about [0-9.]+ GB for this job, and (3\.[0-9]|[012]\.[0-9]) GB are free/);
    assert.ok(!existsSync(join(top, 'out')));
  } finally {
    rmSync(top, { recursive: true, force: true });
  }
});

test('a folder of jobs is checked, and its summary is the same', () =>
  both(door, ['check', '.', '-o', 'out', '--accept', '--voxel', '2'], (a, b) => same(a, b, 'out/summary.json')));

test('where the reader of standard output has left, nothing has failed', () => {
  const shell = (program) =>
    spawnSync('bash', ['-c', `'${program}' list good-a.nc | head -n 2; echo \${PIPESTATUS[0]}`], { cwd: demo, encoding: 'utf8' });
  const [a, b] = [native, node].map(shell);
  assert.equal(b.stdout, a.stdout);
  assert.equal(b.stderr, a.stderr);
});

test('a disk that takes nothing is status 3, in the same words', () => {
  const shell = (program) => spawnSync('bash', ['-c', `'${program}' list good-a.nc >/dev/full`], { cwd: demo, encoding: 'utf8' });
  const [a, b] = [native, node].map(shell);
  assert.equal(b.status, a.status);
  assert.equal(b.stderr, a.stderr);
});

// Broken job files, programs and meshes of fixtures/bad, as their table names them: message and status.
const bad = join(root, 'fixtures/bad');
const rows = readFileSync(join(bad, 'cases.tsv'), 'utf8').trim().split('\n').map((r) => r.split('\t'));
for (const kind of ['job', 'nc'])
  test(`broken files of ${kind}: the same message and status as natively`, () => {
    const cases = rows.filter(([k]) => k === kind).filter((_, i) => i % 4 === 0);
    assert.ok(cases.length > 20);
    for (const [, file] of cases) {
      const words = kind === 'job' ? ['run', file, '--forecast'] : ['list', file];
      const [a, b] = [native, node].map((program) => run(program, words, bad));
      assert.deepEqual({ file, ...b }, { file, ...a });
    }
  });

// report/web/engine/hypot.cpp stands in for the C library that the native program has: it is held to that one's bits, for pairs of
// all sizes, those below the least normal number, nothing, infinities and what is no number.
test('hypot of the WebAssembly has the bits of this computer\'s C library', () => {
  const top = mkdtempSync(join(tmpdir(), 'proveout-web-'));
  try {
    writeFileSync(
      join(top, 'check.cpp'),
      `#include <cmath>
#include <cstdint>
#include <cstdio>
#include <random>
#define hypot mended_hypot
#define hypotf mended_hypotf
#include "${root}/report/web/engine/hypot.cpp"
#undef hypot
#undef hypotf
long apart = 0;
template <typename T> void look(T a, T b) {
  const volatile T x = a, y = b;
  const T mended = sizeof(T) == 4 ? mended_hypotf(x, y) : mended_hypot(x, y);
  const T theirs = sizeof(T) == 4 ? ::hypotf(x, y) : ::hypot(x, y);
  if (mended == theirs || (std::isnan(mended) && std::isnan(theirs))) return;
  if (++apart < 9) std::printf("%a %a: %a, %a\\n", double(a), double(b), double(mended), double(theirs));
}
int main() {
  std::mt19937_64 random(32);
  for (int i = 0; i < 1000000; ++i) {
    const auto of = [&](int wide) { return std::ldexp(double(std::int64_t(random())), int(random() % (2 * wide)) - wide); };
    look(of(40), of(40));
    const int shift = int(random() % 2400) - 1200;
    look(std::ldexp(of(40), shift), std::ldexp(of(40), shift));
    look(float(of(20)), float(of(20)));
    look(float(of(120)), float(of(120)));
  }
  const double odd[] = {0, -0.0, HUGE_VAL, -HUGE_VAL, std::nan(""), 5e-324, 1.7e308, 1, 2.2e-308};
  for (const double a : odd)
    for (const double b : odd) look(a, b), look(float(a), float(b));
  return apart > 0;
}
`,
    );
    const built = run('g++', ['-std=c++20', '-O2', '-ffp-contract=off', 'check.cpp', '-o', 'check'], top);
    assert.equal(built.status, 0, built.err);
    const looked = run('./check', [], top);
    assert.equal(looked.status, 0, looked.out);
  } finally {
    rmSync(top, { recursive: true, force: true });
  }
});

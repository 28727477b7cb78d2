// Every kind of result by docs/result.schema.json with a validator in strict mode (ajv, draft 2020-12), and findings.sarif by
// the schema of SARIF 2.1.0 as it is published (draft 04; from an npm package that carries it; one of its patterns is none by
// the stricter rules of Unicode expressions).
import assert from 'node:assert/strict';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import path from 'node:path';
import { test } from 'node:test';
import Ajv04 from 'ajv-draft-04';
import Ajv2020 from 'ajv/dist/2020.js';

const { PROVEOUT_MADE, PROVEOUT_SCHEMA } = process.env;
const json = (file) => JSON.parse(readFileSync(file, 'utf8'));
const runs = readdirSync(PROVEOUT_MADE).filter((d) => existsSync(path.join(PROVEOUT_MADE, d, 'result.json')));
const validator = () => new Ajv2020({ strict: true, allErrors: true }).compile(json(PROVEOUT_SCHEMA));

test('result.json of every kind is what its schema says', () => {
  for (const name of ['all', 'pictures', 'quote', 'retime', 'check', 'reach', 'faulty', 'good', 'mdf']) assert.ok(runs.includes(name), name);
  const validate = validator();
  for (const name of runs) {
    const result = json(path.join(PROVEOUT_MADE, name, 'result.json'));
    assert.ok(validate(result), `${name}: ${JSON.stringify(validate.errors?.slice(0, 5))}`);
    const section = { all: 'meshes', quote: 'quote', retime: 'retime', reach: 'reach' }[name];
    if (section) assert.ok(result[section], `${name} has no ${section}`);
  }
  assert.ok(validate(json(path.join(PROVEOUT_MADE, 'kept.json'))), JSON.stringify(validate.errors?.slice(0, 5)));
});

// A key nobody described, anywhere, is refused: each object of a whole result in turn.
test('the schema is strict everywhere', () => {
  const validate = validator();
  const open = new Set();
  const walk = (result, at, place) => {
    if (Array.isArray(at)) return at.slice(0, 2).forEach((v) => walk(result, v, `${place}[]`));
    if (at === null || typeof at !== 'object') return;
    at.surprise = 1;
    if (validate(result)) open.add(place);
    delete at.surprise;
    for (const [key, v] of Object.entries(at)) walk(result, v, `${place}.${key}`);
  };
  for (const name of ['all', 'good', 'faulty', 'reach']) {
    const result = json(path.join(PROVEOUT_MADE, name, 'result.json'));
    assert.ok(validate(result), name);
    walk(result, result, '');
  }
  // Seconds by what slowed a tool: the keys are words of their own.
  assert.deepEqual([...open].filter((place) => !place.endsWith('slow_by_s')), []);
});

test('findings.sarif is valid by the published schema', () => {
  const file = new URL('node_modules/@microsoft/jest-sarif/lib/schemas/sarif-2.1.0-rtm.5.json', `file://${process.cwd()}/`);
  const validate = new Ajv04({ strict: false, allErrors: true, validateFormats: false, unicodeRegExp: false }).compile(json(file));
  let logs = 0;
  for (const name of runs) {
    const log = path.join(PROVEOUT_MADE, name, 'findings.sarif');
    if (!existsSync(log)) continue;
    const sarif = json(log);
    assert.ok(validate(sarif), `${name}: ${JSON.stringify(validate.errors?.slice(0, 5))}`);
    ++logs;
    for (const spoil of [(s) => (s.runs[0].results[0].level = 'fatal'), (s) => delete s.runs[0].tool, (s) => (s.runs[0].surprise = 1)]) {
      const bad = structuredClone(sarif);
      if (!bad.runs[0].results.length) continue;
      spoil(bad);
      assert.ok(!validate(bad), String(spoil));
    }
  }
  assert.ok(logs >= 5);
});

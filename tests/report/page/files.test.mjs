// What machines read, held against others' idea of it: result.json by a validator of JSON Schema (ajv, draft 2020-12),
// findings.sarif by the types published for SARIF 2.1.0 (@types/sarif, checked by tsc as a literal, so that unknown keys and
// words count), junit.xml by an XML Schema of the usual form (xmllint).
import assert from 'node:assert/strict';
import { execFileSync, spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { test } from 'node:test';
import Ajv2020 from 'ajv/dist/2020.js';

const { PROVEOUT_SCHEMA, PROVEOUT_OUT, PROVEOUT_OUT_FAULTY, PROVEOUT_OUT_WRONG_CORNER, PROVEOUT_OUT_REACH, PROVEOUT_TSC, PROVEOUT_XSD } = process.env;
const outputs = [PROVEOUT_OUT, PROVEOUT_OUT_FAULTY];
const json = (file) => JSON.parse(readFileSync(file, 'utf8'));

test('result.json is what its schema says', () => {
  const schema = json(PROVEOUT_SCHEMA);
  const ajv = new Ajv2020({ strict: true, allErrors: true });
  assert.ok(ajv.validateSchema(schema), JSON.stringify(ajv.errors));
  const validate = ajv.compile(schema);
  for (const out of [...outputs, PROVEOUT_OUT_WRONG_CORNER]) {
    const result = json(path.join(out, 'result.json'));
    assert.ok(validate(result), JSON.stringify(validate.errors?.slice(0, 5)));
    assert.ok(result.findings.length > 0);
    // And what is wrong is seen: a key left out, one too many, a word that is none.
    for (const spoil of [
      (r) => delete r.setups[0].tools[0].peak.force_n,
      (r) => (r.setups[0].surprise = 1),
      (r) => (r.findings[0].level = 'fatal'),
      (r) => (r.part.centre = [1, 2]),
      (r) => (r.totals.time_s = '12'),
    ]) {
      const bad = structuredClone(result);
      spoil(bad);
      assert.ok(!validate(bad), String(spoil));
    }
  }
});

test('what reach writes is what the schema says', () => {
  const validate = new Ajv2020({ strict: true, allErrors: true }).compile(json(PROVEOUT_SCHEMA));
  const result = json(path.join(PROVEOUT_OUT_REACH, 'result.json'));
  assert.ok(validate(result), JSON.stringify(validate.errors?.slice(0, 5)));
  assert.ok(result.reach.setups.length > 0);
  for (const spoil of [
    (r) => delete r.reach,
    (r) => delete r.reach.step,
    (r) => (r.reach.surprise = 1),
    (r) => (r.reach.setups[0].tools[0].stickout = '32'),
    (r) => (r.reach.undercut_at = [1, 2]),
  ]) {
    const bad = structuredClone(result);
    spoil(bad);
    assert.ok(!validate(bad), String(spoil));
  }
});

function types(log, name) {
  const file = path.resolve(`${name}.ts`);
  writeFileSync(file, `import type { Log } from 'sarif';\nexport const log: Log = ${JSON.stringify(log, null, 1)};\n`);
  return spawnSync(
    process.execPath,
    [PROVEOUT_TSC, '--noEmit', '--strict', '--skipLibCheck', '--types', 'sarif', '--module', 'esnext',
     '--moduleResolution', 'bundler', file],
    { encoding: 'utf8' },
  );
}

test('findings.sarif is SARIF 2.1.0', () => {
  for (const [i, out] of outputs.entries()) {
    const log = json(path.join(out, 'findings.sarif'));
    const checked = types(log, `sarif-${i}`);
    assert.equal(checked.status, 0, checked.stdout.slice(0, 2000));
    const [run] = log.runs;
    const rules = run.tool.driver.rules.map((r) => r.id);
    assert.equal(new Set(rules).size, rules.length);
    const prints = new Set();
    for (const r of run.results) {
      // Section 3.27.6: the index names the same rule as the id. 3.29, 3.30: lines count from 1.
      if (r.ruleIndex !== undefined) assert.equal(rules[r.ruleIndex], r.ruleId);
      assert.ok(rules.includes(r.ruleId));
      for (const l of r.locations ?? []) {
        const region = l.physicalLocation?.region;
        if (region) assert.ok(region.startLine >= 1 && (region.endLine ?? region.startLine) >= region.startLine);
        assert.doesNotThrow(() => new URL(l.physicalLocation.artifactLocation.uri, 'file:///x/'));
      }
      const print = JSON.stringify(r.partialFingerprints ?? r.fingerprints);
      assert.ok(print && !prints.has(print), `twice the same fingerprint: ${print}`);
      prints.add(print);
    }
  }
  const spoilt = json(path.join(PROVEOUT_OUT_FAULTY, 'findings.sarif'));
  spoilt.runs[0].results[0].level = 'fatal';
  assert.notEqual(types(spoilt, 'sarif-spoilt').status, 0);
});

test('junit.xml has the usual form', () => {
  for (const out of outputs) {
    const file = path.join(out, 'junit.xml');
    execFileSync('xmllint', ['--noout', '--schema', PROVEOUT_XSD, file], { stdio: 'pipe' });
    const names = [...readFileSync(file, 'utf8').matchAll(/<testcase classname="([^"]*)" name="([^"]*)"/g)].map((m) => m[1] + '/' + m[2]);
    assert.ok(names.length > 10);
    assert.equal(new Set(names).size, names.length);
    // The counts are those of the cases.
    const text = readFileSync(file, 'utf8');
    const sum = (key) => [...text.matchAll(new RegExp(`<testsuite [^>]*\\b${key}="(\\d+)"`, 'g'))].reduce((a, m) => a + Number(m[1]), 0);
    assert.equal(sum('tests'), names.length);
    assert.equal(sum('failures'), (text.match(/<failure/g) ?? []).length);
    assert.equal(sum('skipped'), (text.match(/<skipped/g) ?? []).length);
  }
});

// Puts page, engine and worker into one HTML file: build-web/proveout.html. Run by build.sh in a copy of the tree.
import { readFile, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { build } from 'esbuild';

const here = dirname(fileURLToPath(import.meta.url));
const { PROVEOUT_WEB_BUILD: out, PROVEOUT_VERSION: version, PROVEOUT_ROOT: root } = process.env;

// A script element ends at the first "</script".
const inScript = (text) => text.replace(/<\/(script)/gi, '<\\/$1').replace(/<!--/g, '<\\!--');
const fill = (text, mark, value) => {
  const parts = text.split(mark);
  if (parts.length !== 2) throw new Error(`start.html must hold ${mark} once`);
  return parts.join(value);
};

// The table of keys of docs/job-file.md, which a test holds to the reader of job files.
function keysOf(markdown) {
  const keys = {};
  for (const [, key, type, meaning] of markdown.matchAll(/^\| `([A-Za-z0-9_.]+)` \| (.*?) \| (.*?) \|$/gm))
    keys[key] = [type.replaceAll('\\|', '|').trim(), meaning.replaceAll('\\|', '|').trim()];
  if (Object.keys(keys).length < 100) throw new Error('docs/job-file.md has no table of keys');
  return keys;
}

// The cautions every run prints, from where the command line has them.
function cautionsOf(source) {
  const body = /cautions\(\) \{\s*static const std::vector<std::string> all = \{(.*?)\};/s.exec(source)?.[1];
  const all = [...(body ?? '').matchAll(/((?:"(?:[^"\\]|\\.)*"\s*)+)(?:,|$)/g)].map(([, parts]) =>
    [...parts.matchAll(/"((?:[^"\\]|\\.)*)"/g)].map(([, part]) => JSON.parse(`"${part}"`)).join(''),
  );
  if (all.length < 3) throw new Error('the cautions were not found in report/text/words.cpp');
  return all;
}

const options = { bundle: true, minify: true, write: false, target: ['es2022'], charset: 'utf8', legalComments: 'inline' };
const [script, style, html, worker, start, engine, jobFile, words] = await Promise.all([
  build({ ...options, entryPoints: [join(here, 'main.ts')], format: 'iife' }),
  build({ ...options, entryPoints: [join(here, 'start.css')] }),
  readFile(join(here, 'start.html'), 'utf8'),
  readFile(join(here, 'worker.js'), 'utf8'),
  readFile(join(out, 'proveout_page.js'), 'utf8'),
  readFile(join(out, 'proveout_page.wasm')),
  readFile(join(root, 'docs/job-file.md'), 'utf8'),
  readFile(join(root, 'report/text/words.cpp'), 'utf8'),
]);
for (const [name, text] of [['proveout_page.js', start], ['worker.js', worker]])
  if (/<\/script|<!--/i.test(text)) throw new Error(`${name} would end its element`);
const json = (value) => JSON.stringify(value).replaceAll('<', '\\u003c');
let page = html;
page = fill(page, '/*STYLE*/', style.outputFiles[0].text.replace(/<\/style/gi, '<\\/style'));
page = fill(page, '%VERSION%', version);
page = fill(page, '%ENGINE%', gzipSync(engine, { level: 9 }).toString('base64'));
page = fill(page, '%START%', start);
page = fill(page, '%WORKER%', worker);
page = fill(page, '%KEYS%', json(keysOf(jobFile)));
page = fill(page, '%CAUTIONS%', json(cautionsOf(words)));
page = fill(page, '/*SCRIPT*/', inScript(script.outputFiles[0].text));
await writeFile(join(out, 'proveout.html'), page);
console.log(`proveout.html: ${Buffer.byteLength(page)} bytes`);

// Bundles src/ into one HTML file: page.html, with places for title and data that the C++ side fills.
// Colour scales are taken from their library here, as 256 colours each: the page needs no more of it. Shaders go in
// without comments and indents.
import { createHash } from 'node:crypto';
import { readFile, writeFile } from 'node:fs/promises';
import { interpolateCividis, interpolatePuOr } from 'd3-scale-chromatic';
import { build } from 'esbuild';

const most = 700_000; // bytes, of the page without data

const hex = (colour) =>
  colour.startsWith('#')
    ? colour.slice(1)
    : colour
        .match(/[\d.]+/g)
        .map((v) => Math.round(Number(v)).toString(16).padStart(2, '0'))
        .join('');
const sampled = (interpolate) =>
  JSON.stringify(Array.from({ length: 256 }, (_, i) => hex(interpolate(i / 255))).join(''));

// A shader's text without the spaces nobody needs: those about + and - stay, for `- -x`, and each directive its line.
const spare = / *([*/=(){},;?:<>&|![\]]) */g;
const tight = (shader) => {
  if (!/[;#]/.test(shader) || !shader.includes('\n')) return shader;
  let out = '';
  for (const line of shader.split('\n').map((l) => l.trim())) {
    if (!line) continue;
    const directive = line.startsWith('#');
    const short = directive ? line : line.replace(spare, '$1');
    const lone = directive || short.includes('//');
    const apart = /(^|\n)$/.test(out) ? '' : directive ? '\n' : /\w$/.test(out) && /^\w/.test(short) ? ' ' : '';
    out += apart + short + (lone ? '\n' : '');
  }
  return out;
};
// Pieces of shaders of materials that the page has none of; one that had would not compile, and the browser's console say so.
const unused = /^(lights_(physical|toon)|envmap_physical|transmission|iridescence|clearcoat|gradientmap)_/;
const shortShaders = {
  name: 'short shaders',
  setup(bundle) {
    const loader = (path) => (path.endsWith('.ts') ? 'ts' : 'js');
    const shorten = (filter, change) =>
      bundle.onLoad({ filter }, async ({ path }) => ({
        contents: change(await readFile(path, 'utf8')),
        loader: loader(path),
      }));
    shorten(/three\.module\.js$/, (text) =>
      text.replace(/^(const|var) (\w+) = (".*");$/gm, (_, is, name, words) => {
        const shorter = unused.test(name) ? '' : tight(JSON.parse(words));
        return `${is} ${name} = ${JSON.stringify(shorter)};`;
      }),
    );
    shorten(/src.shaders\.ts$/, (text) => text.replace(/\/\/.*$/gm, '').replace(/^ +/gm, '').replace(spare, '$1'));
  },
};

const options = {
  bundle: true,
  minify: true,
  write: false,
  target: ['es2022'],
  legalComments: 'inline',
  charset: 'utf8',
  define: { CIVIDIS: sampled(interpolateCividis), PUOR: sampled(interpolatePuOr) },
  plugins: [shortShaders],
};
const [script, style] = await Promise.all([
  build({ ...options, entryPoints: ['src/main.ts'], format: 'iife' }),
  build({ ...options, entryPoints: ['src/page.css'] }),
]);
// A script element ends at the first "</script", a style element at "</style".
const inScript = (text) => text.replace(/<\/(script)/gi, '<\\/$1').replace(/<!--/g, '<\\!--');
const fill = (text, mark, value) => {
  const parts = text.split(mark);
  if (parts.length !== 2) throw new Error(`page.html must hold ${mark} once`);
  return parts.join(value);
};
let page = await readFile('src/page.html', 'utf8');
page = fill(page, '/*STYLE*/', style.outputFiles[0].text.replace(/<\/style/gi, '<\\/style'));
page = fill(page, '/*SCRIPT*/', inScript(script.outputFiles[0].text));
for (const mark of ['%TITLE%', '%ABOUT%', '%BULK%', '%OTHERS%']) {
  if (page.split(mark).length !== 2) throw new Error(`page.html must hold ${mark} once`);
}
const bytes = Buffer.byteLength(page);
if (bytes > most) throw new Error(`page.html has ${bytes} bytes, more than ${most}`);
await writeFile('page.html', page);
// Included where the page is embedded: a compiler cache that only looks at includes would else keep an earlier page.
await writeFile('page_digest.h', `// ${createHash('sha256').update(page).digest('hex')}\n`);
console.log(`page.html: ${bytes} bytes`);

// Bundles src/ into one HTML file: page.html, with places for title and data that the C++ side fills.
import { readFile, writeFile } from 'node:fs/promises';
import { build } from 'esbuild';

const options = {
  bundle: true,
  minify: true,
  write: false,
  target: ['es2022'],
  legalComments: 'inline',
  charset: 'utf8',
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
for (const mark of ['%TITLE%', '%ABOUT%', '%BULK%']) {
  if (page.split(mark).length !== 2) throw new Error(`page.html must hold ${mark} once`);
}
await writeFile('page.html', page);
console.log(`page.html: ${Buffer.byteLength(page)} bytes`);

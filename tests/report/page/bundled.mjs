// Sources of the page, bundled as the page is, for tests that call them without a browser.
import { createRequire } from 'node:module';
import { join } from 'node:path';

const sources = process.env.PROVEOUT_PAGE_SOURCES; // a copy of report/page with its packages

// contents: what a module beside src would export from there.
export async function bundled(contents) {
  const esbuild = createRequire(join(sources, 'package.json'))('esbuild');
  const { outputFiles } = await esbuild.build({
    stdin: { contents, resolveDir: sources },
    bundle: true,
    format: 'esm',
    write: false,
  });
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].text).toString('base64')}`);
}

// For node's test runner: one browser for the tests of a file, and pages of a report in it.
import assert from 'node:assert/strict';
import { after, before } from 'node:test';
import { pathToFileURL } from 'node:url';
import { openPage, withBrowser } from './browser.mjs';

// The page of one report, opened anew for each test that asks for it.
export function opener(file) {
  const url = pathToFileURL(file).href;
  let context, done, finished;
  before(async () => {
    await new Promise((ready) => {
      finished = withBrowser((c) => {
        context = c;
        ready();
        return new Promise((resolve) => {
          done = resolve;
        });
      });
    });
  });
  after(async () => {
    done();
    await finished;
  });
  const using = async (settings, work) => {
    const opened = await openPage(context, settings.url ?? url, settings);
    try {
      await work(opened.page, opened);
      assert.deepEqual(opened.trouble, [], 'the browser complained');
    } finally {
      await opened.page.close();
    }
  };
  return { url, using, newPage: () => context.newPage() };
}

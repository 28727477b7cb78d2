// Markup in every text of a job (markup/): in the page it is the text it was, and none of it is carried out.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { openPage, withBrowser } from './browser.mjs';

const url = pathToFileURL(process.env.PROVEOUT_REPORT_MARKUP).href;
const name = {
  job: `<b data-hostile>job</b></script><script>document.documentElement.dataset.hit=1</script><!-- &lt;i&gt; "' onload='x`,
  comment: `(<b data-hostile>comment</b></script><script>document.documentElement.dataset.hit=1</script><!-- &lt;i&gt; "')`,
  beside: `(<img src=x onerror="document.documentElement.dataset.hit=1"><b data-hostile>beside a move</b>)`,
  machine: `<b data-hostile>machine</b><img src=x onerror="document.documentElement.dataset.hit=1">`,
  tool: `<b data-hostile>tool</b><svg onload="document.documentElement.dataset.hit=1"></svg>&lt;i&gt; "'`,
  setup: `<b data-hostile>setup</b>&lt;i&gt; "'`,
  fixture: `<b data-hostile>clamp</b><img src=x onerror="document.documentElement.dataset.hit=1">&lt;i&gt; "'`,
  file: `<b data-hostile><img src=x onerror="document.documentElement.dataset.hit=1">&lt;i&gt;'.nc`,
};

test('markup in comments and names of job, machine, tool, setup, fixture and file stays text', () =>
  withBrowser(async (context) => {
    const { page, trouble, asked } = await openPage(context, url);
    const still = () =>
      page.waitForFunction(
        () => document.getElementById('bench').getAttribute('aria-busy') === 'false',
      );
    const holds = async (where, text) => {
      const said = await page.locator(where).evaluateAll((all) => all.map((e) => e.textContent));
      assert.ok(
        said.some((s) => s.includes(text)),
        `${where} lacks ${text}: ${said.join('\n')}`,
      );
    };
    const nothingHappened = async () => {
      assert.equal(await page.locator('[data-hostile], [onerror], [onload], [src=x]').count(), 0);
      assert.equal(await page.evaluate(() => document.documentElement.dataset.hit), undefined);
    };
    await nothingHappened();
    await holds('h1', name.job);
    assert.ok((await page.title()).includes('<b data-hostile>job</b></script>'));
    await holds('.findings', name.file); // the rapid through material names its file and tool
    await holds('.findings', name.fixture); // the tool goes into it
    await holds('#sheet', name.setup);
    await holds('#sheet', name.file);
    await holds('#sheet', name.tool);
    await holds('body', name.machine);
    await page.locator('.findings .jump').first().click();
    await still();
    await nothingHappened();
    await holds('.nc', name.beside);
    await holds('.readings', name.tool);
    for (let k = 0; k < 12; k++) {
      await page.locator('#moment').focus();
      await page.keyboard.press(',');
      await still();
    }
    await holds('.nc', name.comment);
    await page.emulateMedia({ media: 'print' });
    await nothingHappened();
    assert.deepEqual(trouble, [], 'the browser complained');
    assert.deepEqual(asked, [url]);
  }));

// node pictures.mjs GOOD.html FAULTY.html FOLDER: the pictures of the page in docs/pictures, taken anew of the door pull's
// two reports. Not a test: letters and shading differ from browser to browser.
import { resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { choose, openPage, press, slideTo, timeOfLine, whole, withBrowser } from './browser.mjs';

const [good, faulty] = process.argv.slice(2, 4).map((file) => pathToFileURL(resolve(file)).href);
const into = (name) => resolve(process.argv[4], name);
const desk = { viewport: { width: 1280, height: 1100 }, media: { colorScheme: 'light' } };

// Half way through the first move of a line that cuts.
const goTo = async (page, setup, line) => slideTo(page, await timeOfLine(page, setup, line, 0.5));

const shot = async (of, path, more = {}) => {
  await whole(of.page?.() ?? of);
  await of.screenshot({ path, ...more });
};

await withBrowser(async (context) => {
  async function take(url, settings, work) {
    const { page, trouble } = await openPage(context, url, settings);
    await page.waitForTimeout(2000); // shading comes after the first picture
    await work(page);
    if (trouble.length > 0) throw new Error(trouble.join('\n'));
    await page.close();
  }
  await take(faulty, desk, async (page) => {
    await press(page, 'Setup B');
    await goTo(page, 1, 13698);
    await shot(page, into('page.png'));
    await shot(page.locator('#findings'), into('page-findings.png'));
  });
  await take(faulty, { ...desk, media: { colorScheme: 'dark' } }, async (page) => {
    await press(page, 'Setup B');
    await press(page, 'below');
    await choose(page, 'Stock coloured by', 'deviation');
    await shot(page, into('page-dark.png'));
  });
  await take(good, desk, async (page) => {
    await press(page, 'Setup A');
    await goTo(page, 0, 30251);
    await choose(page, 'Path', 'none');
    await choose(page, 'Section', 'y');
    await shot(page, into('page-section.png'));
  });
  await take(good, desk, async (page) => {
    await press(page, 'Setup A');
    await choose(page, 'Path', 'none');
    await choose(page, 'Shown', 'part');
    await goTo(page, 0, 5000);
    await shot(page, into('page-part.png'));
  });
  await take(good, { ...desk, viewport: { width: 390, height: 844 } }, (page) =>
    shot(page, into('page-phone.png')),
  );
  await take(good, { viewport: { width: 794, height: 1123 }, media: { media: 'print' } }, (page) =>
    shot(page, into('page-sheet.png'), { fullPage: true }),
  );
});

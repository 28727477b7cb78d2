// node frames.mjs REPORT.html [WIDTH HEIGHT SECONDS]: frames a second while the replay runs and while the eye moves, and how
// long a step of the slider takes until its picture stands. Not a test: the figures depend on the machine.
//   frames: pictures that were drawn to their end (WebGL 2's fences), not only asked for
//   page, drawing: processor time a frame of the page itself and of the process that draws, ms
//   step: from the slider's event to a picture drawn to its end, at 20 places
import { loadavg } from 'node:os';
import { resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { openPage, press, processorTime, slideTo, whole, withBrowser } from './browser.mjs';

const [, , file, width = '1400', height = '1000', seconds = '5'] = process.argv;

// Notes when each picture was drawn to its end: the canvas says when one was asked for (data-drawn), a fence when it was done.
const watchFrames = () => {
  const canvas = document.querySelector('.picture canvas'),
    gl = canvas.getContext('webgl2');
  const waiting = [];
  window.drawnAt = [];
  new MutationObserver(() => {
    if (canvas.dataset.drawn === 'coarse') {
      waiting.push(gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0));
      gl.flush();
    } else if (canvas.dataset.drawn === 'whole') window.drawnAt.push(performance.now());
  }).observe(canvas, { attributes: true, attributeFilter: ['data-drawn'] });
  const look = () => {
    while (waiting.length && gl.getSyncParameter(waiting[0], gl.SYNC_STATUS) === gl.SIGNALED) {
      gl.deleteSync(waiting.shift());
      window.drawnAt.push(performance.now());
    }
    setTimeout(look, 2);
  };
  look();
};

await withBrowser(async (context) => {
  const { page } = await openPage(context, pathToFileURL(resolve(file)).href, {
    viewport: { width: Number(width), height: Number(height) },
    media: { colorScheme: 'light' },
  });
  await page.waitForTimeout(4000); // shading and looking ahead come after the first picture
  await page.evaluate(watchFrames);
  const told = (words, { frames, s, gaps }, spent) => {
    gaps.sort((a, b) => a - b);
    const at = (share) => gaps[Math.floor(share * (gaps.length - 1))]?.toFixed(0);
    console.log(
      `${words}: ${(frames / s).toFixed(1)} frames a second, gaps ${at(0.5)} ms median, ${at(0.95)} of twenty's worst; ` +
        `page ${((1000 * spent[0]) / frames).toFixed(1)} ms, drawing ${((1000 * spent[1]) / frames).toFixed(1)} ms a frame`,
    );
  };
  const times = () => [processorTime('renderer'), processorTime('gpu-process')];
  const during = async (words, work) => {
    await page.waitForTimeout(1200);
    const before = times();
    const result = await page.evaluate(work, Number(seconds));
    told(words, result, times().map((v, k) => v - before[k]));
  };
  console.log(`${file}, ${width} x ${height}, load ${loadavg()[0].toFixed(1)}`);
  for (const [index, name] of ['A', 'B'].entries()) {
    if (!(await page.getByRole('button', { name: `Setup ${name}`, exact: true }).count())) continue;
    await press(page, `Setup ${name}`);
    await page.waitForTimeout(2500);
    await page.evaluate(() => document.getElementById('bench').scrollIntoView());
    const { total } = await page.evaluate((i) => ({ total: window.proveoutBench.about.setups[i].time_s }), index);
    await slideTo(page, 0.4 * total);
    await during(`${name} runs`, (s) =>
      new Promise((done) => {
        const bench = window.proveoutBench;
        window.drawnAt = [];
        const begun = performance.now();
        bench.run(true);
        setTimeout(() => {
          bench.run(false);
          const at = window.drawnAt;
          done({ frames: at.length, s: (performance.now() - begun) / 1000, gaps: at.slice(1).map((v, k) => v - at[k]) });
        }, 1000 * s);
      }),
    );
    await whole(page);
    for (const place of ['within', 'at its end']) {
      if (place === 'at its end') await slideTo(page, total);
      await during(`${name} ${place} turns`, (s) =>
        new Promise((done) => {
          const { view } = window.proveoutBench;
          window.drawnAt = [];
          const begun = performance.now();
          const step = () => {
            if (performance.now() - begun > 1000 * s) {
              const at = window.drawnAt;
              done({ frames: at.length, s: (performance.now() - begun) / 1000, gaps: at.slice(1).map((v, k) => v - at[k]) });
              return;
            }
            view.turn(1.5, 0);
            requestAnimationFrame(step);
          };
          step();
        }),
      );
    }
    const steps = [];
    for (let k = 0; k < 20; k++) {
      await page.waitForTimeout(300);
      steps.push(
        await page.evaluate(
          (time) =>
            new Promise((done) => {
              const bench = window.proveoutBench,
                slider = document.getElementById('moment');
              window.drawnAt = [];
              const begun = performance.now();
              slider.value = String(time);
              slider.dispatchEvent(new Event('input', { bubbles: true }));
              const look = () =>
                window.drawnAt.length && Math.abs(bench.main.time - time) < 0.5 && bench.caught !== false
                  ? done(window.drawnAt.at(-1) - begun)
                  : setTimeout(look, 2);
              look();
            }),
          ((k * 7 + 3) % 20) / 20 * total,
        ),
      );
    }
    steps.sort((a, b) => a - b);
    console.log(`${name} slider: median ${steps[10].toFixed(0)} ms, largest ${steps[19].toFixed(0)} ms`);
  }
});

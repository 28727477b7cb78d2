// Debian's Firefox, driven by its own remote protocol (Marionette, as Firefox's source describes it): messages of JSON with their
// length before them. No driver program is needed.
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const program = process.env.PROVEOUT_FIREFOX ?? '/usr/bin/firefox-esr';
const fileKey = 'element-6066-11e4-a52e-4f735466cecf'; // W3C WebDriver: the key of an element reference

export async function withFirefox(work) {
  const profile = mkdtempSync(join(tmpdir(), 'proveout-firefox-'));
  const port = 20000 + (process.pid % 20000);
  writeFileSync(join(profile, 'user.js'), `user_pref("marionette.port", ${port});
user_pref("network.proxy.type", 1); user_pref("network.proxy.http", "127.0.0.1"); user_pref("network.proxy.http_port", 9);
user_pref("network.proxy.ssl", "127.0.0.1"); user_pref("network.proxy.ssl_port", 9);
user_pref("app.update.enabled", false); user_pref("datareporting.policy.dataSubmissionEnabled", false);
user_pref("toolkit.telemetry.enabled", false); user_pref("browser.shell.checkDefaultBrowser", false);
user_pref("dom.max_script_run_time", 0);
`);
  const child = spawn(program, ['--headless', '--marionette', '--no-remote', '--profile', profile, 'about:blank'], { stdio: 'ignore' });
  try {
    const socket = await opened(port);
    const send = talk(socket);
    await send('WebDriver:NewSession', { capabilities: { alwaysMatch: { timeouts: { script: 3_000_000, pageLoad: 300_000 } } } });
    await work({
      goto: (url) => send('WebDriver:Navigate', { url }),
      // A function of the page, awaited there.
      evaluate: async (f, ...args) => {
        const script = `const done = arguments[arguments.length - 1]; const args = [...arguments].slice(0, -1); (async () => (${f})(...args))().then((v) => done({ v }), (e) => done({ e: String(e) }));`;
        const { value } = await send('WebDriver:ExecuteAsyncScript', { script, args });
        if (value.e) throw new Error(value.e);
        return value.v;
      },
      choose: async (selector, paths) => {
        const { value } = await send('WebDriver:FindElement', { using: 'css selector', value: selector });
        await send('WebDriver:ElementSendKeys', { id: value[fileKey], text: paths.join('\n') });
      },
    });
    socket.destroy();
  } finally {
    const gone = new Promise((ended) => child.on('exit', ended));
    child.kill('SIGTERM');
    await gone;
    rmSync(profile, { recursive: true, force: true });
  }
}

async function opened(port) {
  for (let tries = 0; tries < 600; ++tries) {
    const socket = connect(port, '127.0.0.1');
    if (await new Promise((known) => socket.once('connect', () => known(true)).once('error', () => known(false)))) return socket;
    await new Promise((soon) => setTimeout(soon, 200));
  }
  throw new Error('Firefox does not answer');
}

function talk(socket) {
  let got = Buffer.alloc(0);
  let number = 0;
  const waiting = new Map();
  socket.on('data', (bytes) => {
    got = Buffer.concat([got, bytes]);
    for (;;) {
      const colon = got.indexOf(58);
      const length = Number(got.subarray(0, Math.max(0, colon)).toString());
      if (colon < 0 || got.length < colon + 1 + length) return;
      const message = JSON.parse(got.subarray(colon + 1, colon + 1 + length).toString());
      got = got.subarray(colon + 1 + length);
      if (!Array.isArray(message)) continue; // its greeting
      const [, id, error, result] = message;
      const { done, failed } = waiting.get(id);
      waiting.delete(id);
      if (error) failed(new Error(`${error.error}: ${error.message}`));
      else done(result);
    }
  });
  return (name, parameters) =>
    new Promise((done, failed) => {
      waiting.set(++number, { done, failed });
      const text = Buffer.from(JSON.stringify([0, number, name, parameters]));
      socket.write(Buffer.concat([Buffer.from(`${text.length}:`), text]));
    });
}

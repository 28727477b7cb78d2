// A folder that is read again: what is new, changed and gone is told, by a stand-in for the browser's handles (File System Access:
// a directory has values(), a file getFile() with name, size and lastModified).
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { canWatch, watchFolder } from './watched_folder.mjs';

const entry = (name, words, lastModified) => ({ kind: 'file', name, getFile: async () => Object.assign(new Blob([words]), { lastModified }) });
const folder = (name, entries) => ({ kind: 'directory', name, async *values() { yield* entries(); } });

test('new, changed and gone files of a folder are told, once each; a folder that may not be read ends it', async () => {
  const timers = [];
  globalThis.window = { setTimeout: (f) => timers.push(f) };
  assert.equal(canWatch(), false);
  let now = [entry('a.toml', 'one', 1), entry('.hidden', 'x', 1), folder('nc', () => [entry('a.nc', 'G0', 1)])];
  window.showDirectoryPicker = async () => folder('job', () => now);
  assert.equal(canWatch(), true);
  const told = [];
  let ended = '';
  const names = (files) => [...files].map(([path, bytes]) => `${path}=${new TextDecoder().decode(bytes)}`);
  await watchFolder((files, gone) => told.push([names(files), gone]), (why) => (ended = why));
  const look = async () => { await timers.pop()(); await new Promise((soon) => setTimeout(soon, 5)); };
  assert.deepEqual(told.pop(), [['job/a.toml=one', 'job/nc/a.nc=G0'], []]);
  await look();
  assert.deepEqual(told, []);
  now = [entry('a.toml', 'two', 2)];
  await look();
  assert.deepEqual(told.pop(), [['job/a.toml=two'], ['job/nc/a.nc']]);
  // The same size and another time: read again. A file that cannot be read this time is seen the next.
  now = [{ ...entry('a.toml', '', 3), getFile: async () => { throw Object.assign(new Error('being replaced'), { name: 'NotFoundError' }); } }];
  await look();
  now = [entry('a.toml', 'six', 3)];
  await look();
  assert.deepEqual(told.pop(), [['job/a.toml=six'], []]);
  window.showDirectoryPicker = undefined;
  now = [{ kind: 'file', name: 'b', getFile: async () => { throw Object.assign(new Error('not allowed'), { name: 'NotAllowedError' }); } }];
  await look();
  assert.equal(ended, 'not allowed');
  assert.equal(timers.length, 0);
});

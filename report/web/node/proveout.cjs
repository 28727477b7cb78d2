#!/usr/bin/env node
// The command line on Node: the engine is WebAssembly, files are the system's own.
'use strict';
const fs = require('node:fs');
const path = require('node:path');
const tty = require('node:tty');
const { spawnSync } = require('node:child_process');
const proveout = require('./engine.js');

const settings = {
  thisProgram: 'proveout',
  wasmBinary: fs.readFileSync(path.join(__dirname, 'engine.wasm')),
  readerHasLeft: false,
  preRun: [(engine) => Object.assign(engine.ENV, process.env)],
  // One job of a folder, to its end: its status.
  runAnother(words, log) {
    const file = fs.openSync(log, 'w');
    try {
      return spawnSync(process.execPath, [__filename, ...words], { stdio: ['ignore', file, file] }).status ?? 3;
    } finally {
      fs.closeSync(file);
    }
  },
};

// What is written to a full pipe waits for its reader; a reader that has left is remembered.
const write = fs.writeSync;
fs.writeSync = (file, ...rest) => {
  for (;;) {
    try {
      return write(file, ...rest);
    } catch (failure) {
      if (failure.code === 'EPIPE' && file === 1) settings.readerHasLeft = true;
      if (failure.code !== 'EAGAIN') throw failure;
      Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 5);
    }
  }
};

const machineFailed = (why) => {
  fs.writeSync(2, `proveout: ${why}\n`);
  process.exit(3);
};

let status;
settings.quit = (code, why) => {
  status = code;
  throw why;
};
proveout(settings).then(
  (engine) => {
    for (const stream of engine.FS.streams) if (stream) stream.tty = tty.isatty(stream.fd);
    try {
      status = engine.callMain(process.argv.slice(2)) ?? status;
    } catch (failure) {
      if (status === undefined) machineFailed(failure instanceof Error ? failure.message : String(failure));
    }
    process.exit(status);
  },
  (failure) => machineFailed(`the engine cannot be started: ${failure.message ?? failure}`),
);

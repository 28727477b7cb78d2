// One command of the command line, in a worker that ends with it. What stands before this text when the worker is made is
// the engine's own start (proveout_page.js), which defines `proveout`.
'use strict';

// Folders of a path, made where they are missing.
function folderFor(FS, path) {
  const folder = path.slice(0, path.lastIndexOf('/'));
  if (folder) FS.mkdirTree(folder);
}

function filesUnder(FS, folder, out) {
  for (const name of FS.readdir(folder)) {
    if (name === '.' || name === '..') continue;
    const path = `${folder}/${name}`;
    if (FS.isDir(FS.stat(path).mode)) filesUnder(FS, path, out);
    else out.push([path, FS.readFile(path)]);
  }
  return out;
}

onmessage = async ({ data }) => {
  const said = [];
  let status;
  let engine;
  const tell = (error) => (text) => said.push({ error, text });
  try {
    engine = await proveout({
      thisProgram: 'proveout',
      preRun: [({ ENV }) => { ENV.PROVEOUT_SHOP = '/shop'; }],
      instantiateWasm(imports, ready) {
        WebAssembly.instantiate(data.module, imports).then(
          (instance) => ready(instance, data.module),
          (failure) => postMessage({ failed: `the engine cannot be started: ${failure.message}` }),
        );
        return {};
      },
      print: tell(false),
      printErr: tell(true),
      showProgress: (what, share) => postMessage({ what, share }),
      quit(code, why) {
        status = code;
        throw why;
      },
    });
    const { FS } = engine;
    for (const [path, bytes] of data.files) {
      folderFor(FS, path);
      FS.writeFile(path, bytes);
    }
    for (const [folder, files] of data.beside) {
      FS.mkdirTree(folder);
      for (const [path, bytes] of files) {
        folderFor(FS, path);
        FS.writeFile(path, bytes);
      }
    }
    FS.mkdirTree(data.folder);
    FS.mkdirTree(data.out);
    FS.chdir(data.folder);
    const ended = engine.callMain(data.words);
    status ??= ended;
  } catch (failure) {
    if (status === undefined) {
      const short = failure instanceof RangeError || /memory/i.test(String(failure?.message));
      tell(true)(short ? 'proveout: out of memory; a larger voxel needs less' : `proveout: ${failure?.message ?? failure}`);
      status = 3;
    }
  }
  let files = [];
  const beside = [];
  try {
    files = filesUnder(engine.FS, data.out, []);
    for (const path of data.back)
      if (engine.FS.analyzePath(path).exists) files.push([path, engine.FS.readFile(path)]);
    for (const [folder] of data.beside) beside.push([folder, filesUnder(engine.FS, folder, [])]);
  } catch (failure) {
    tell(true)(`proveout: the results cannot be read: ${failure?.message ?? failure}`);
    status = 3;
  }
  const all = [...files, ...beside.flatMap(([, kept]) => kept)];
  postMessage({ status, said, files, beside }, all.map(([, bytes]) => bytes.buffer));
};

// The engine: the command line as WebAssembly, a worker a command. Nothing is asked of a network: its bytes stand in
// this page.
import { byId } from '../../page/src/dom';
import type { Held } from './files';

export interface Said {
  error: boolean; // standard error
  text: string;
}
export interface Ended {
  status: number; // as docs/commands.md says; 130: stopped
  said: Said[];
  files: Held; // written below the output folder
  beside: Map<string, Held>; // as Command.beside, as the command left them
}
export interface Command {
  words: string[];
  folder: string; // where it is given, from the top of the files
  files: Held;
  out: string; // the folder whose files are wanted back
  back?: string[]; // and files beside what was given, by path
  beside?: Map<string, Held>; // folders of their own, from the root: their files, which may change
  progress?: (what: string, share: number) => void;
}

export const outFolder = '/out';
const top = '/job/';

let compiled: Promise<WebAssembly.Module> | undefined;
let workerUrl = '';

async function compile(): Promise<WebAssembly.Module> {
  const packed = atob((byId('engine-bytes').textContent ?? '').trim());
  const bytes = new Uint8Array(packed.length);
  for (let i = 0; i < packed.length; ++i) bytes[i] = packed.charCodeAt(i);
  const unpacked = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('gzip'));
  const start = [byId('engine-start').textContent ?? '', byId('engine-worker').textContent ?? ''];
  workerUrl = URL.createObjectURL(new Blob(start, { type: 'text/javascript' }));
  return WebAssembly.compile(await new Response(unpacked).arrayBuffer());
}
export const ready = (): Promise<WebAssembly.Module> => (compiled ??= compile());

// A run that can be stopped; stopped, it has status 130 and no files.
export class Run {
  readonly ended: Promise<Ended>;
  private worker?: Worker;
  private finish: (e: Ended) => void = () => undefined;

  constructor(command: Command) {
    this.ended = new Promise((done) => {
      this.finish = (e) => {
        this.worker?.terminate();
        done(e);
      };
    });
    ready().then(
      (module) => this.start(module, command),
      (failure) => this.fail(`the engine cannot be started: ${failure?.message ?? failure}`),
    );
  }

  stop(): void {
    this.finish({ status: 130, said: [{ error: true, text: 'proveout: stopped before the end; nothing was written' }], files: new Map(), beside: new Map() });
  }

  private fail(why: string): void {
    this.finish({ status: 3, said: [{ error: true, text: `proveout: ${why}` }], files: new Map(), beside: new Map() });
  }

  private start(module: WebAssembly.Module, command: Command): void {
    const worker = new Worker(workerUrl);
    this.worker = worker;
    worker.onerror = (e) => this.fail(e.message || 'the worker failed; a larger voxel needs less memory');
    worker.onmessage = ({ data }) => {
      if (data.failed) this.fail(data.failed);
      else if (data.status === undefined) command.progress?.(data.what, data.share);
      else {
        const files: Held = new Map();
        for (const [path, bytes] of data.files) files.set(path.startsWith(`${command.out}/`) ? path.slice(command.out.length + 1) : path.slice(top.length), bytes);
        const beside = new Map<string, Held>();
        for (const [folder, all] of data.beside as [string, [string, Uint8Array][]][])
          beside.set(folder, new Map(all.map(([path, bytes]) => [path.slice(folder.length + 1), bytes])));
        this.finish({ status: data.status, said: data.said, files, beside });
      }
    };
    worker.postMessage({
      module,
      words: command.words,
      folder: top + command.folder,
      out: command.out,
      back: (command.back ?? []).map((path) => top + path),
      files: [...command.files].map(([path, bytes]) => [top + path, bytes]),
      beside: [...(command.beside ?? [])].map(([folder, files]) => [folder, [...files].map(([path, bytes]) => [`${folder}/${path}`, bytes])]),
    });
  }
}

// A message with its place, as the command line writes it: FILE:LINE:COLUMN: error: WHAT [CODE].
export interface Located {
  file: string;
  line: number;
  column: number;
  level: string;
  what: string;
}
export function located(said: Said[]): Located[] {
  const out: Located[] = [];
  for (const { text } of said) {
    const found = /^(.*?)(?::(\d+))?(?::(\d+))?: (error|warning|note): (.*)$/.exec(text);
    if (found) out.push({ file: found[1], line: Number(found[2] ?? 0), column: Number(found[3] ?? 0), level: found[4], what: found[5] });
  }
  return out;
}

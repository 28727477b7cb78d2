// Files that were dropped or chosen: by their path, slashes between folders, with their bytes.
export type Held = Map<string, Uint8Array>;

// More than this is no job: a folder chosen by mistake.
const most = 2000;
const mostBytes = 2 ** 30;

export class TooMuch extends Error {}

interface Found {
  path: string;
  file: File;
}

async function under(entry: FileSystemEntry, path: string, found: Found[]): Promise<void> {
  if (found.length > most) throw new TooMuch(`there are more than ${most} files in what was dropped`);
  if (entry.isFile) {
    const file = await new Promise<File>((got, failed) => (entry as FileSystemFileEntry).file(got, failed));
    found.push({ path, file });
    return;
  }
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((got, failed) => reader.readEntries(got, failed));
    if (some.length === 0) return;
    for (const inner of some)
      if (!inner.name.startsWith('.')) await under(inner, `${path}/${inner.name}`, found);
  }
}

// What was dropped; folders with all that is in them. To be called while the drop is told: later it is gone.
export function dropped(transfer: DataTransfer): Promise<Found[]> {
  const entries: FileSystemEntry[] = [];
  const files: Found[] = [];
  for (const item of transfer.items) {
    if (item.kind !== 'file') continue;
    const entry = item.webkitGetAsEntry?.();
    const file = item.getAsFile();
    if (entry) entries.push(entry);
    else if (file) files.push({ path: file.name, file });
  }
  return (async () => {
    for (const entry of entries) await under(entry, entry.name, files);
    return files;
  })();
}

export const chosen = (list: FileList): Found[] =>
  [...list].map((file) => ({ path: file.webkitRelativePath || file.name, file }));

export async function bytesOf(found: Found[]): Promise<Held> {
  if (found.length > most) throw new TooMuch(`these are ${found.length} files, more than ${most}`);
  const total = found.reduce((sum, f) => sum + f.file.size, 0);
  if (total > mostBytes) throw new TooMuch(`these files have ${Math.round(total / 1e6)} MB together, more than a page can hold`);
  const out: Held = new Map();
  for (const { path, file } of found) out.set(path, new Uint8Array(await file.arrayBuffer()));
  return out;
}

export const text = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);
export const ending = (path: string): string => /\.([^./]+)$/.exec(path)?.[1].toLowerCase() ?? '';
export const folderOf = (path: string): string => path.slice(0, Math.max(0, path.lastIndexOf('/')));
export const nameOf = (path: string): string => path.slice(path.lastIndexOf('/') + 1);

// The path as it is named in a command given in that folder.
export function from(folder: string, path: string): string {
  const here = folder ? folder.split('/') : [];
  const there = path.split('/');
  while (here.length > 0 && here[0] === there[0]) {
    here.shift();
    there.shift();
  }
  return [...here.map(() => '..'), ...there].join('/');
}

export type Kind = 'job' | 'table' | 'program' | 'mesh' | 'result' | 'page' | 'other';
// Tools, materials or a machine by themselves. Any other text is taken as a job, so that the engine says what is wrong.
const isTable = /^\s*(?:\[\[?\s*(?:tools|materials?|machine)\b|(?:max_feed|rapid|accel|spindle)\s*=)/m;
const isJob = /^\s*\[\[?\s*(?:setups|stock|part)\b/m;
export const hasSetups = (bytes: Uint8Array): boolean => /^\s*\[\[\s*setups\s*\]\]/m.test(text(bytes));
export function kindOf(path: string, bytes: Uint8Array): Kind {
  const end = ending(path);
  if (end === 'toml') return isTable.test(text(bytes)) && !isJob.test(text(bytes)) ? 'table' : 'job';
  if (['stl', 'obj', 'ply', 'off', '3mf'].includes(end)) return 'mesh';
  if (end === 'json') return 'result';
  if (end === 'html') return 'page';
  if (['nc', 'ngc', 'cnc', 'tap', 'gcode', 'txt', 'mpf', 'min', 'eia', 'iso'].includes(end)) return 'program';
  // A program by what stands in it: blocks of words.
  return /^\s*(?:N\d+\s*)?[GTM]\d/m.test(text(bytes.slice(0, 4000))) ? 'program' : 'other';
}

export const size = (bytes: number): string =>
  bytes < 1000 ? `${bytes} bytes` : bytes < 1e6 ? `${Math.round(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;

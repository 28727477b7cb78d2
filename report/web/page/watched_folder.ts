// A folder that is read again when a file in it changes, on browsers that let a page do so (File System Access, WICG draft): every
// second by its files' times and sizes.
import { TooMuch, type Held } from './files';

interface Handle {
  kind: 'file' | 'directory';
  name: string;
  values?(): AsyncIterable<Handle>;
  getFile?(): Promise<File>;
}
type Chooser = () => Promise<Handle>;
const chooser = (): Chooser | undefined => (window as unknown as { showDirectoryPicker?: Chooser }).showDirectoryPicker;
export const canWatch = (): boolean => chooser() !== undefined;

const most = 2000; // as files.ts

async function filesOf(folder: Handle, path: string, out: Map<string, File>): Promise<void> {
  for await (const entry of folder.values!()) {
    if (entry.name.startsWith('.')) continue;
    const at = `${path}/${entry.name}`;
    if (entry.kind === 'directory') await filesOf(entry, at, out);
    else out.set(at, await entry.getFile!());
    if (out.size > most) throw new TooMuch(`there are more than ${most} files in the folder`);
  }
}

let watching = 0; // the number of the watch: a new one ends the one before

// changed: what is new or other than before, and the paths that are gone. Ends, and says why, where the folder is not readable any more.
export async function watchFolder(changed: (files: Held, gone: string[]) => void, ended: (why: string) => void): Promise<void> {
  let folder: Handle;
  try {
    folder = await chooser()!();
  } catch {
    return; // nothing was chosen
  }
  const mine = ++watching;
  let before = new Map<string, string>();
  const look = async (): Promise<void> => {
    if (mine !== watching) return;
    try {
      const now = new Map<string, File>();
      await filesOf(folder, folder.name, now);
      const signs = new Map([...now].map(([path, f]) => [path, `${f.lastModified} ${f.size}`]));
      const files: Held = new Map();
      for (const [path, file] of now) if (signs.get(path) !== before.get(path)) files.set(path, new Uint8Array(await file.arrayBuffer()));
      const gone = [...before.keys()].filter((path) => !signs.has(path));
      before = signs;
      if (files.size + gone.length > 0) changed(files, gone);
    } catch (failure) {
      // A file that is just being replaced: seen at the next look. A folder that is gone, or more than a page can hold, ends it.
      if (failure instanceof TooMuch || (failure as Error).name === 'NotAllowedError') return ended((failure as Error).message);
    }
    window.setTimeout(() => void look(), 1000);
  };
  await look();
}

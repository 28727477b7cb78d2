// Files to keep: each by itself, or all in one archive (PKWARE's APPNOTE 6.3.3, stored without compression).
import type { Held } from './files';

export function save(name: string, bytes: Uint8Array, type = 'application/octet-stream'): void {
  const url = URL.createObjectURL(new Blob([bytes as Uint8Array<ArrayBuffer>], { type }));
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

const table = Uint32Array.from({ length: 256 }, (_, n) => {
  for (let k = 0; k < 8; ++k) n = n & 1 ? (n >>> 1) ^ 0xedb88320 : n >>> 1;
  return n;
});
// ISO 3309, as in the archive's format.
export function crc32(bytes: Uint8Array): number {
  let crc = ~0;
  for (const b of bytes) crc = table[(crc ^ b) & 255] ^ (crc >>> 8);
  return ~crc >>> 0;
}

export function archive(files: Held): Uint8Array {
  const parts: Uint8Array[] = [];
  const list: Uint8Array[] = [];
  let at = 0;
  // Its date is the format's first: the same files give the same bytes.
  const record = (begin: number[], name: Uint8Array, bytes: Uint8Array, crc: number, more: number[]) => {
    const out = new DataView(new ArrayBuffer(begin.length + 22 + 4 + more.length + name.length));
    begin.forEach((b, i) => out.setUint8(i, b));
    let i = begin.length;
    for (const short of [0x800, 0, 0, 33]) i = (out.setUint16(i, short, true), i + 2);
    for (const long of [crc, bytes.length, bytes.length]) i = (out.setUint32(i, long, true), i + 4);
    for (const short of [name.length, 0]) i = (out.setUint16(i, short, true), i + 2);
    more.forEach((b) => out.setUint8(i++, b));
    const made = new Uint8Array(out.buffer).slice(0, i + name.length);
    made.set(name, i);
    return made;
  };
  for (const [path, bytes] of files) {
    const name = new TextEncoder().encode(path);
    const crc = crc32(bytes);
    const head = record([0x50, 0x4b, 3, 4, 20, 0], name, bytes, crc, []);
    const more = new Uint8Array(14);
    new DataView(more.buffer).setUint32(6, 0o100644 * 65536, true); // a file anyone may read
    new DataView(more.buffer).setUint32(10, at, true);
    list.push(record([0x50, 0x4b, 1, 2, 20, 3, 20, 0], name, bytes, crc, [...more]));
    parts.push(head, bytes);
    at += head.length + bytes.length;
  }
  const end = new DataView(new ArrayBuffer(22));
  end.setUint32(0, 0x06054b50, true);
  end.setUint16(8, list.length, true);
  end.setUint16(10, list.length, true);
  end.setUint32(12, list.reduce((sum, l) => sum + l.length, 0), true);
  end.setUint32(16, at, true);
  const all = [...parts, ...list, new Uint8Array(end.buffer)];
  const out = new Uint8Array(all.reduce((sum, p) => sum + p.length, 0));
  let to = 0;
  for (const p of all) {
    out.set(p, to);
    to += p.length;
  }
  return out;
}

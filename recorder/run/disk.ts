/** The disk under the store: how much is free on it, and how much this program has written since its start. */
import { readFile, statfs } from "node:fs/promises";
import { dirname } from "node:path";

export interface Disk {
  /** What an ordinary user may still write; null: not known. */
  readonly free_bytes: number | null;
  /** What the kernel has sent, or will, to the disk for us, proc(5); null: this system does not say. */
  readonly written_bytes: number | null;
}

export const UNKNOWN_DISK: Disk = { free_bytes: null, written_bytes: null };

export async function lookAtDisk(store_path: string): Promise<Disk> {
  const [free_bytes, written_bytes] = await Promise.all([freeBytes(store_path), written()]);
  return { free_bytes, written_bytes };
}

/** What an ordinary user may still write there; null: not known. */
export async function freeBytes(store_path: string): Promise<number | null> {
  try {
    const { bavail, bsize } = await statfs(dirname(store_path));
    return bavail * bsize;
  } catch {
    return null;
  }
}

async function written(): Promise<number | null> {
  try {
    const found = /^write_bytes: (\d+)$/m.exec(await readFile("/proc/self/io", "utf8"));
    return found === null ? null : Number(found[1]);
  } catch {
    return null;
  }
}

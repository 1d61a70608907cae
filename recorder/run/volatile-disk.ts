/**
 * Whether the store lies where a power cut takes all of it: in memory, or in the upper half of an overlay, which boxes with
 * a read-only root keep in memory (RPi-Distro/raspi-config#288). Sets would be kept, announced, and gone in the morning.
 */
import { statfs } from "node:fs/promises";
import { dirname } from "node:path";

/** Types of file systems, statfs(2). */
const VOLATILE: ReadonlyMap<number, string> = new Map([
  [0x01021994, "in memory (tmpfs)"],
  [0x858458f6, "in memory (ramfs)"],
  [0x794c7630, "on an overlay, which may be in memory"],
]);

/** One sentence for a file system of this type; null: it lasts, as far as its type says. */
export function volatileBy(type: number, directory: string): string | null {
  // The kernel's word is signed on some machines.
  const where = VOLATILE.get(type >>> 0);
  if (where === undefined) return null;
  return `The store's directory ${directory} is ${where}: every set is lost when the power goes; put the store on a disk.`;
}

/** The same of where the store is. */
export async function volatileDisk(store_path: string): Promise<string | null> {
  const directory = dirname(store_path);
  try {
    return volatileBy((await statfs(directory)).type, directory);
  } catch {
    return null;
  }
}

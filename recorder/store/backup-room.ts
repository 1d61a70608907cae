/** Whether there is room for a copy of the store: a full disk is found out before it is one. */
import { statfsSync, statSync } from "node:fs";
import { NotDone } from "./backup-trouble.ts";

/** Left to those who keep sets, on the disk that the store is on. */
const LEFT_FREE_BYTES = 16 * 1024 * 1024;

/** Throws a NotDone that says how much is needed; what the system throws where there is no such folder. */
export function refuseFull(folder: string, store_folder: string, bytes: number): void {
  const needed = bytes + (onOneDisk(folder, store_folder) ? LEFT_FREE_BYTES : 0);
  const { bavail, bsize } = statfsSync(folder);
  if (bavail * bsize >= needed) return;
  const message = `The disk of ${folder} has ${megabytes(bavail * bsize)} MB free, and ${megabytes(needed)} MB are needed.`;
  throw new NotDone("storage", message, "Make room on it, or name a folder on another one.");
}

/** Throws what the system throws where one of the folders is not there. */
export const onOneDisk = (folder: string, other: string): boolean => statSync(folder).dev === statSync(other).dev;

/** Rounded up: what is asked for must be enough. */
const megabytes = (bytes: number): number => Math.ceil(bytes / 1e6);

/**
 * Room kept on the disk for what must not be lost: a file of no content beside the store, given up when a set that could
 * not be kept finds no other. A full card is told of long before; who is told to stop on one has no time left for people.
 */
import { open, rm, stat } from "node:fs/promises";

/** As JSON a set of a minute at 80 readings a second takes a tenth of a megabyte. */
const ROOM_BYTES = 8 * 1024 * 1024;
/** On a small disk no more than this of what is free. */
const SHARE = 1 / 8;
const CHUNK = Buffer.alloc(256 * 1024);

const pathOf = (store_path: string): string => `${store_path}.spare`;

/** Takes the room, or as much as is fair. One that was taken earlier stays. Never rejects. */
export async function takeSpareRoom(store_path: string, free_bytes: number | null): Promise<void> {
  const path = pathOf(store_path);
  const chunks = Math.floor(Math.min(ROOM_BYTES, (free_bytes ?? 0) * SHARE) / CHUNK.length);
  if (chunks === 0 || (await sizeOf(path)) > 0) return;
  try {
    const file = await open(path, "w", 0o640);
    try {
      // Written, not only lengthened: a hole takes no room.
      for (let chunk = 0; chunk < chunks; chunk += 1) await file.write(CHUNK);
    } finally {
      await file.close();
    }
  } catch {
    await rm(path, { force: true }).catch(() => {});
  }
}

/** False: there was none to give up. */
export async function giveUpSpareRoom(store_path: string): Promise<boolean> {
  const path = pathOf(store_path);
  if ((await sizeOf(path)) === 0) return false;
  await rm(path, { force: true });
  return true;
}

async function sizeOf(path: string): Promise<number> {
  try {
    return (await stat(path)).size;
  } catch {
    return 0;
  }
}

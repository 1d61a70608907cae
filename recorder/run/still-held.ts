/** What an erasure cannot reach, for whoever has to answer for it: copies made earlier, other people's notes, other machines. */
import { readdir } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import type { Gone } from "./erasing-pieces.ts";

/** What else lies beside a store by its name, and holds what was kept when it was made. */
const COPIES = ["version", "damaged", "before-restore"] as const;

/** One sentence each, the certain ones first. */
export async function stillHeld(store_path: string, gone: Gone): Promise<readonly string[]> {
  const { claims_kept, unreadable, held } = gone;
  const copies = await copiesBeside(store_path);
  return [
    ...copies.map((path) => `${path} was made earlier and is not touched: delete it once nobody needs it.`),
    ...unreadable.map(
      (set_id) => `The log of set ${set_id}, somebody else's, cannot be read, and may name them as who was there.`,
    ),
    ...(claims_kept === 0
      ? []
      : [
          `${claims_kept} calibrations, checks and zeros go on saying that they did them: other people's forces rest on that.`,
        ]),
    ...(held
      ? [
          "Another program was reading the store's file, so pages of before may still be in it: end it, and erase once more.",
        ]
      : []),
    "Backups and exports made before now hold them: delete those, or erase again after a restore or an import.",
    "Notes that people wrote to other trainees' sets and plans were not searched.",
    "The broker and the displays are told to forget each set; one that is away or keeps records of its own may hold them on.",
    "The log of this machine names whoever asked for something as performed_by, a tag nobody was linked to yet, and a set that could not be kept anywhere: let it run out, or delete it.",
    "Flash cards and disks may keep old copies of a block out of reach until they write over them.",
  ];
}

async function copiesBeside(store_path: string): Promise<string[]> {
  const directory = dirname(store_path);
  const name = basename(store_path);
  const found = (await readdir(directory)).filter((file) => {
    if (!file.startsWith(`${name}.`) || file.endsWith("-wal") || file.endsWith("-shm")) return false;
    return COPIES.some((kind) => file.startsWith(`${name}.${kind}-`)) || file.startsWith(`${name}.unkept-`);
  });
  return found.sort().map((file) => join(directory, file));
}

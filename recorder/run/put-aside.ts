/**
 * A set that the store does not take, as JSON beside it: whatever is wrong with the set or the disk, what was measured is
 * not lost. The next start tries to keep it, and once it is kept its file goes.
 */
import { readdir, readFile, rename, rm, writeFile } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import { z } from "zod";
import { setSchema } from "../../protocol/messages/set.ts";
import type { SetToKeep } from "../ports.ts";

const asideSchema = z.object({
  message: setSchema,
  setup: z.string().default(""),
  log: z.object({
    arm: z.unknown(),
    at_us: z.array(z.number()),
    counts: z.array(z.number()),
    events: z.array(z.object({ before: z.int(), event: z.unknown() })),
  }),
});

const pathOf = (store_path: string, set_id: string): string => `${store_path}.unkept-${set_id}.json`;

/** Returns where it is. Rejects where it cannot be written either. */
export async function putAside(store_path: string, { message, setup, log }: Omit<SetToKeep, "topic">): Promise<string> {
  const path = pathOf(store_path, message.set_id);
  // Columns may be typed arrays, which JSON would write as objects.
  const columns = { ...log, at_us: Array.from(log.at_us), counts: Array.from(log.counts) };
  // Whole or not at all: a later try with no room must not take the place of an earlier one that had some.
  const partial = `${path}.partial`;
  try {
    await writeFile(partial, JSON.stringify({ message, setup, log: columns }), { mode: 0o640, flush: true });
    await rename(partial, path);
  } catch (error) {
    // What it took of a full disk is worth more to the next one.
    await rm(partial, { force: true }).catch(() => {});
    throw error;
  }
  return path;
}

export interface Aside {
  /** In the order they were begun. */
  readonly sets: readonly Omit<SetToKeep, "topic">[];
  /** Files that hold no set this version can read: they stay. */
  readonly unreadable: readonly string[];
}

/** What earlier runs put aside. Rejects where the directory cannot be read. */
export async function setsAside(store_path: string): Promise<Aside> {
  const directory = dirname(store_path);
  const begin = `${basename(store_path)}.unkept-`;
  const sets: Omit<SetToKeep, "topic">[] = [];
  const unreadable: string[] = [];
  // A set's id begins with its time, and so does the name of its file.
  for (const name of (await readdir(directory)).sort()) {
    if (!name.startsWith(begin) || !name.endsWith(".json")) continue;
    const path = join(directory, name);
    const set = await readAside(path);
    if (set === null) unreadable.push(path);
    else sets.push(set);
  }
  return { sets, unreadable };
}

/** The set is kept: nothing needs to lie aside any more. */
export async function forgetAside(store_path: string, set_id: string): Promise<void> {
  await rm(pathOf(store_path, set_id), { force: true });
}

/**
 * All of one trainee's, and what was being written when the recorder went. What cannot be read is searched for the code.
 * Somebody else's that they asked for stays, and says no more who asked.
 */
export async function forgetAsideOf(store_path: string, trainee: string): Promise<void> {
  const directory = dirname(store_path);
  const begin = `${basename(store_path)}.unkept-`;
  // What was being written comes first: putting aside again would take its name.
  for (const name of (await readdir(directory)).sort().reverse()) {
    if (!name.startsWith(begin)) continue;
    const path = join(directory, name);
    const set = await readAside(path);
    const theirs = set === null ? (await readFile(path, "utf8")).includes(`"${trainee}"`) : names(set, trainee);
    const asked = set !== null && armOf(set)?.performed_by === trainee;
    // What was being written is read by no start.
    if (theirs || (asked && !name.endsWith(".json"))) await rm(path, { force: true });
    else if (asked) {
      await putAside(store_path, { ...set, log: { ...set.log, arm: { ...armOf(set), performed_by: null } } });
    }
  }
}

const names = (set: Omit<SetToKeep, "topic">, trainee: string): boolean =>
  set.message.trainee === trainee || armOf(set)?.trainee === trainee;

const armOf = ({ log }: Omit<SetToKeep, "topic">) =>
  log.arm as { readonly trainee?: unknown; readonly performed_by?: unknown } | null;

async function readAside(path: string): Promise<Omit<SetToKeep, "topic"> | null> {
  try {
    const read = asideSchema.safeParse(JSON.parse(await readFile(path, "utf8")));
    return read.success ? read.data : null;
  } catch {
    return null;
  }
}

/** A restore that was prepared: its names, and how it takes its place at the next opening of the store. */
import { existsSync, readdirSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { StoreFailure } from "./failure.ts";

/** Where the next opening of the store finds what is to take its place. */
export const pendingPath = (store_path: string): string => `${store_path}.restore`;

/** As long as it is not complete. */
export const partialPath = (store_path: string): string => `${pendingPath(store_path)}.partial`;

/** Once it is all that it will be, and nothing is left but renaming: the number is of the name that the store in use gets. */
export const readyPath = (store_path: string, number: number): string => `${store_path}.restore-ready-${number}`;

/** null: there is none. */
export function readyIn(store_path: string): { readonly file: string; readonly number: number } | null {
  const start = `${basename(store_path)}.restore-ready-`;
  const folder = dirname(store_path);
  const name = existsSync(folder) ? readdirSync(folder).find((one) => one.startsWith(start)) : undefined;
  const number = Number(name?.slice(start.length));
  return name === undefined || !Number.isSafeInteger(number) ? null : { file: join(folder, name), number };
}

/** Something waits to take the place of the store at its next opening. */
export const isPending = (store_path: string): boolean =>
  existsSync(pendingPath(store_path)) || readyIn(store_path) !== null;

/**
 * What became of it, for a person; null: there was none. Where it cannot be done the store in use stays so, and it is tried
 * again at the next opening. Rejects with a StoreFailure where there would be neither.
 */
export async function takePending(store_path: string): Promise<string | null> {
  if (!isPending(store_path)) return null;
  try {
    const { doApart } = await import("./backup-apart.ts");
    return (await doApart({ do: "place", store_path }, new AbortController().signal)).said;
  } catch (error) {
    const why = (error as Error).message.replace(/\.$/, "");
    if (!existsSync(store_path)) throw new StoreFailure("unopenable", `cannot restore the store ${store_path}: ${why}`);
    return `A restore could not take its place (${why}): the store is as it was before, and the next start tries again; delete ${pendingPath(store_path)} to give it up.`;
  }
}

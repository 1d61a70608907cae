/** A restore that was prepared: its names, and how it takes its place at the next opening of the store. */
import { existsSync } from "node:fs";
import { StoreFailure } from "./failure.ts";

/** Where the next opening of the store finds what is to take its place. */
export const pendingPath = (store_path: string): string => `${store_path}.restore`;

/** As long as it is not complete. */
export const partialPath = (store_path: string): string => `${pendingPath(store_path)}.partial`;

/**
 * What became of it, for a person; null: there was none. Where it cannot be done the store in use stays so, and it is tried
 * again at the next opening. Rejects with a StoreFailure where there would be neither.
 */
export async function takePending(store_path: string): Promise<string | null> {
  const pending = pendingPath(store_path);
  if (!existsSync(pending)) return null;
  try {
    const { doApart } = await import("./backup-apart.ts");
    return (await doApart({ do: "place", store_path }, new AbortController().signal)).said;
  } catch (error) {
    const why = (error as Error).message.replace(/\.$/, "");
    if (!existsSync(store_path)) throw new StoreFailure("unopenable", `cannot restore the store ${store_path}: ${why}`);
    return `A restore could not take its place (${why}): the store is as it was before, and the next start tries again; delete ${pending} to give it up.`;
  }
}

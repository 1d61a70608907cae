/**
 * A recorder's storage in a process of its own, to be killed: keeps sets one after the other, and backs up meanwhile as often as it
 * is told. Arguments: the store's file, the number of the first set. Says to its parent what it was told.
 */
import { doApart } from "../../recorder/store/backup-apart.ts";
import { openStore } from "../../recorder/store/store.ts";
import { inventedLog, inventedSet, toKeep } from "../recorder/store/invented.ts";

export type Said =
  | { readonly is: "kept"; readonly number: number; readonly took_ms: number }
  | { readonly is: "backed-up"; readonly bytes: number; readonly sets: number; readonly took_ms: number };

const [path, first] = process.argv.slice(2) as [string, string];
const say = (said: Said): void => void process.send?.(said);

process.on("message", (target: string) => {
  const began_ms = performance.now();
  void doApart({ do: "backup", store_path: path, path: target }, new AbortController().signal).then(({ made }) =>
    say({ is: "backed-up", bytes: made.bytes, sets: made.sets, took_ms: performance.now() - began_ms }),
  );
});

const store = await openStore({ path });
for (let number = Number(first); ; number++) {
  const began_ms = performance.now();
  await store.keep(toKeep(inventedSet(number), "", inventedLog(number)));
  say({ is: "kept", number, took_ms: performance.now() - began_ms });
  // A hall with a set every tenth of a second.
  await new Promise((resolve) => setTimeout(resolve, 100));
}

/**
 * Prepares a restore, or puts one in its place, and kills itself just before its n-th call that changes a file, counted over
 * renaming, writing, deleting and syncing. Arguments: "prepare" or "place", the store's file, the backup, n. Lives on where it
 * makes fewer calls, and says how many.
 */
import fs from "node:fs";
import { syncBuiltinESMExports } from "node:module";

const [what, path, backup, last] = process.argv.slice(2) as [string, string, string, string];
let calls = 0;
for (const name of [
  "renameSync",
  "writeSync",
  "writeFileSync",
  "rmSync",
  "fsyncSync",
  "chmodSync",
  "mkdirSync",
] as const) {
  const real = fs[name] as (...args: unknown[]) => unknown;
  (fs as Record<string, unknown>)[name] = (...args: unknown[]): unknown => {
    calls += 1;
    if (calls === Number(last)) process.kill(process.pid, "SIGKILL");
    return real(...args);
  };
}
syncBuiltinESMExports();

if (what === "prepare") {
  const { prepareRestore } = await import("../../../recorder/store/restore-prepare.ts");
  await prepareRestore(path, backup, async () => {});
} else {
  const { placeRestored } = await import("../../../recorder/store/restore-place.ts");
  placeRestored(path);
}
fs.writeSync(1, String(calls));

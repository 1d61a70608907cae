/**
 * Changes calibrations as fast as it can until it is killed, and says on stdout how many changes it was told are done.
 * Arguments: the store's file, the number of the first change.
 */
import { writeSync } from "node:fs";
import { openStore } from "../../../recorder/store/store.ts";
import { changeOf } from "./calibration-changes.ts";

const [path, first] = process.argv.slice(2);
const store = await openStore({ path: path! });
for (let number = Number(first); ; number++) {
  const { method, args } = changeOf(number);
  await (store[method] as (...args: readonly unknown[]) => Promise<unknown>)(...args);
  writeSync(1, `${number + 1}\n`);
}

/**
 * Keeps sets as fast as it can until it is killed, and says on stdout what it was told: `part SET PARTS` after each
 * checkpoint, `kept SET SEQ` after each set. Arguments: the store's file, the number of the first set.
 */
import { writeSync } from "node:fs";
import { openStore } from "../../../recorder/store/store.ts";
import { inventedLog, inventedSet, toKeep, uuidOf } from "./invented.ts";
import { partOf } from "./parts-of.ts";

const [path, first] = process.argv.slice(2);
const store = await openStore({ path: path! });
for (let number = Number(first); ; number++) {
  for (const part of [0, 1, 2]) {
    await store.checkpoint([partOf(number, part)]);
    writeSync(1, `part ${uuidOf(number)} ${part + 1}\n`);
  }
  const { set_seq } = await store.keep(toKeep(inventedSet(number), "seat=3", inventedLog(number)));
  writeSync(1, `kept ${uuidOf(number)} ${set_seq}\n`);
}

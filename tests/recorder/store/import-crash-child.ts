/**
 * Imports a file until it is done or killed, and says on stdout `piece SETS` after each piece that is written, with how many
 * sets of the file are through by then. Arguments: the store's file, the file to import.
 */
import { openSync, writeSync } from "node:fs";
import { sayFile } from "../../../recorder/run/import-pieces.ts";
import { openStore } from "../../../recorder/store/store.ts";

const [path, from] = process.argv.slice(2);
const store = await openStore({ path: path! });
let after: number | null = null;
let through = 0;
for (const word of sayFile(openSync(from!, "r"))) {
  if (word.is !== "piece") continue;
  ({ place: after } = await store.importPiece({ ...word.piece, after }));
  through += word.piece.sets.length;
  writeSync(1, `piece ${through}\n`);
}
await store.close();

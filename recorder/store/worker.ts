/** The storage thread. All SQL happens here: a card that takes 200 ms for a commit must not hold up a reading. */
import { parentPort, workerData } from "node:worker_threads";
import { type Hurry, serve } from "./serve.ts";
import { openTablesWithCalibrations } from "./tables.ts";

if (parentPort === null) throw new Error("this file is the storage thread and is started by store.ts");
const { path, hurry } = workerData as { readonly path: string; readonly hurry: Hurry };
await serve(parentPort, () => openTablesWithCalibrations(path), hurry);

/** Erases one trainee from a store, as the service does, until it is done or killed. Arguments: the file, the trainee. */
import { writeSync } from "node:fs";
import { runErasure } from "../../../recorder/run/erasing-pieces.ts";
import { openStore } from "../../../recorder/store/store.ts";
import { NOTICE } from "./erasing.ts";

const [path, trainee] = process.argv.slice(2);
const store = await openStore({ path: path! });
const wish = { trainee: trainee!, ended_before: null, asked_at: NOTICE.envelope.at, performed_by: null };
const { erasure } = await store.beginErasure(wish);
writeSync(1, "begun\n");
await runErasure(erasure, {
  store,
  stations: [],
  notice: () => NOTICE,
  forget() {},
  gone: () => writeSync(1, "piece\n"),
  latest() {},
  stopping: new AbortController().signal,
  date: () => NOTICE.envelope.at,
});
writeSync(1, "done\n");
await store.close();

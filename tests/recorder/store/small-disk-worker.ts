/** The storage thread on a disk that has room for a few more pages only. */
import { parentPort, workerData } from "node:worker_threads";
import { serve } from "../../../recorder/store/serve.ts";
import { openTables } from "../../../recorder/store/tables.ts";

const { path, more_pages } = workerData as { readonly path: string; readonly more_pages: number };
await serve(parentPort!, async () => {
  const tables = openTables(path);
  const pages = Number(tables.database.pragma("page_count"));
  tables.database.exec(`PRAGMA max_page_count = ${pages + more_pages}`);
  return tables;
});

/** Writes the generated contract files. Run it from a checkout after changing a message: `npm run contract`. */
import { mkdirSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { contractFiles, SCHEMA_FOLDER } from "./contract-files.ts";

const top = fileURLToPath(new URL("../..", import.meta.url));
const files = contractFiles();

mkdirSync(join(top, SCHEMA_FOLDER), { recursive: true });
for (const name of readdirSync(join(top, SCHEMA_FOLDER))) {
  if (!files.has(`${SCHEMA_FOLDER}/${name}`)) rmSync(join(top, SCHEMA_FOLDER, name));
}
for (const [path, content] of files) {
  mkdirSync(dirname(join(top, path)), { recursive: true });
  writeFileSync(join(top, path), content);
}

/** The version of the program, from its package. */
import { readFileSync } from "node:fs";

/** The package lies two folders up from here, or three when built. */
function read(): string {
  for (const up of ["../../package.json", "../../../package.json"]) {
    try {
      const found: unknown = JSON.parse(readFileSync(new URL(up, import.meta.url), "utf8"));
      const { name, version } = found as { name?: unknown; version?: unknown };
      if (name === "tidemark" && typeof version === "string") return version;
    } catch {
      // Not there: the next place.
    }
  }
  return "unknown";
}

export const VERSION = read();

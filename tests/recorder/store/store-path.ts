import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { onTestFinished } from "vitest";

/** A directory of this test's own, gone when it is finished; the path of a store in it. */
export function storePath(): string {
  const directory = mkdtempSync(join(tmpdir(), "tidemark-store-"));
  onTestFinished(() => rmSync(directory, { recursive: true, force: true }));
  return join(directory, "tidemark.db");
}

import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { onTestFinished } from "vitest";
import type { Configuration } from "../../../recorder/configuration/schema.ts";
import { configurationIn } from "./gym-service.ts";

/** A place of this test's own for store and sockets, and the gym's configuration on it; gone when it is finished. */
export function placed(): Configuration {
  const directory = mkdtempSync(join(tmpdir(), "tidemark-run-"));
  onTestFinished(() => rmSync(directory, { recursive: true, force: true }));
  return configurationIn(directory);
}

/**
 * The store as a box runs it: compiled to JavaScript in a directory of its own, so that a child process starts in
 * milliseconds and the thread is started from a `.js` file.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("../../..", import.meta.url));

export interface Built {
  /** The compiled file of a source file, by its path from the top of the project. */
  file(source: string): string;
  remove(): void;
}

export function build(...sources: readonly string[]): Built {
  const directory = mkdtempSync(join(tmpdir(), "tidemark-built-"));
  symlinkSync(join(root, "node_modules"), join(directory, "node_modules"));
  writeFileSync(join(directory, "package.json"), '{"type":"module"}');
  const configuration = {
    extends: join(root, "tsconfig.json"),
    compilerOptions: {
      noEmit: false,
      outDir: directory,
      rootDir: root,
      typeRoots: [join(root, "node_modules/@types")],
    },
    files: sources.map((source) => join(root, source)),
    include: [],
  };
  writeFileSync(join(directory, "tsconfig.json"), JSON.stringify(configuration));
  execFileSync(join(root, "node_modules/.bin/tsc"), ["--project", directory], { encoding: "utf8" });
  return {
    file: (source) => join(directory, source.replace(/\.ts$/, ".js")),
    remove: () => rmSync(directory, { recursive: true, force: true }),
  };
}

/**
 * Builds recorder and benches together into a folder of their own, so that what is measured is what a box runs, and
 * nobody else's build gets in between. Sources under tsx would bring the work of their loader with them.
 */
import { spawnSync } from "node:child_process";
import { accessSync, constants, copyFileSync, mkdtempSync, rmSync, symlinkSync } from "node:fs";
import { tmpdir } from "node:os";
import { delimiter, join } from "node:path";
import { fileURLToPath } from "node:url";

export const ROOT = fileURLToPath(new URL("../..", import.meta.url));

/** Program, and the Debian package that brings it. */
const NEEDED = { mosquitto: "mosquitto", perl: "perl-base", stty: "coreutils" } as const;

/** Debian keeps mosquitto where only root's path leads. */
const PATH = [...(process.env["PATH"] ?? "").split(delimiter), "/usr/sbin", "/sbin"];

/** The Debian packages of programs that are not here. */
export function missingPackages(): readonly string[] {
  const isThere = (program: string): boolean =>
    PATH.some((folder) => {
      try {
        accessSync(join(folder, program), constants.X_OK);
        return true;
      } catch {
        return false;
      }
    });
  return Object.entries(NEEDED).flatMap(([program, debian]) => (isThere(program) ? [] : [debian]));
}

/** For processes that a bench starts. */
export const environment = (): NodeJS.ProcessEnv => ({ ...process.env, PATH: PATH.join(delimiter) });

/** The folder, which its owner removes; null: it does not compile, and the compiler has said why. */
export function build(): string | null {
  const folder = mkdtempSync(join(tmpdir(), "tidemark-bench-"));
  symlinkSync(join(ROOT, "node_modules"), join(folder, "node_modules"));
  copyFileSync(join(ROOT, "package.json"), join(folder, "package.json"));
  const project = join(ROOT, "tests", "bench", "tsconfig.json");
  const { status } = spawnSync("npx", ["tsc", "--project", project, "--outDir", folder], {
    cwd: ROOT,
    stdio: "inherit",
  });
  if (status === 0) {
    // Invented sets are checked against them.
    symlinkSync(join(ROOT, "protocol", "schemas"), join(folder, "protocol", "schemas"));
    return folder;
  }
  rmSync(folder, { recursive: true, force: true });
  return null;
}

/** A memory card of our own: a small file system in memory, mounted for one test, that can be filled and made read-only. */
import { execFileSync, spawnSync } from "node:child_process";
import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

export class SmallCard {
  readonly folder = mkdtempSync(join(tmpdir(), "tidemark-card-"));

  /** Throws where this machine lets nobody mount: these tests need root, and a container with CAP_SYS_ADMIN. */
  constructor(size_KiB: number) {
    try {
      execFileSync("mount", ["-t", "tmpfs", "-o", `size=${size_KiB}k`, "tmpfs", this.folder], { stdio: "pipe" });
    } catch (error) {
      rmSync(this.folder, { recursive: true });
      throw new Error("a file system could not be mounted; run as root where mounting is allowed", { cause: error });
    }
  }

  /** To the last byte, beside whatever is on it. */
  fill(): void {
    const file = openSync(this.#filler, "a");
    try {
      for (let chunk = 65_536; chunk >= 1; ) {
        try {
          writeSync(file, Buffer.alloc(chunk));
        } catch {
          chunk = Math.floor(chunk / 2);
        }
      }
    } finally {
      closeSync(file);
    }
  }

  free(): void {
    rmSync(this.#filler);
  }

  /** False while somebody has a file of it open for writing. */
  remount(as: "ro" | "rw"): boolean {
    return spawnSync("mount", ["-o", `remount,${as}`, this.folder], { stdio: "ignore" }).status === 0;
  }

  remove(): void {
    execFileSync("umount", ["-l", this.folder], { stdio: "pipe" });
    rmSync(this.folder, { recursive: true, force: true });
  }

  get #filler(): string {
    return join(this.folder, "filler");
  }
}

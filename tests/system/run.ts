/** `npm run test:system`: says what is missing, builds what a box runs, then runs the suite on the real things. */
import { spawnSync } from "node:child_process";
import { accessSync, constants } from "node:fs";
import { delimiter, join } from "node:path";
import { fileURLToPath } from "node:url";

/** Program, and the Debian package that brings it. */
const NEEDED = {
  mosquitto: "mosquitto",
  mosquitto_sub: "mosquitto-clients",
  socat: "socat",
  openssl: "openssl",
  strace: "strace",
} as const;

const root = fileURLToPath(new URL("../..", import.meta.url));

function isThere(program: string): boolean {
  const folders = [...(process.env["PATH"] ?? "").split(delimiter), "/usr/sbin", "/sbin"];
  return folders.some((folder) => {
    try {
      accessSync(join(folder, program), constants.X_OK);
      return true;
    } catch {
      return false;
    }
  });
}

function run(command: string, args: readonly string[]): void {
  const path = `${process.env["PATH"] ?? ""}${delimiter}/usr/sbin`;
  const { status } = spawnSync(command, args, { cwd: root, stdio: "inherit", env: { ...process.env, PATH: path } });
  if (status !== 0) process.exit(status ?? 1);
}

const missing = Object.entries(NEEDED).flatMap(([program, debian]) => (isThere(program) ? [] : [debian]));
if (missing.length > 0) {
  console.error(`The system suite needs programs that are not here. As root: apt-get install -y ${missing.join(" ")}`);
  process.exit(1);
}
run("npm", ["run", "--silent", "build"]);
run("npx", ["vitest", "run", "--config", "tests/system/vitest.config.ts", ...process.argv.slice(2)]);

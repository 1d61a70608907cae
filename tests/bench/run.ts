/**
 * `npm run bench [-- NAME... --quick]`: builds, then measures what the speed budgets name, one bench after the other, each
 * in a process of its own. Exits 1 where one is missed, 2 where it is asked for what there is not.
 */
import { spawn } from "node:child_process";
import { once } from "node:events";
import { rmSync } from "node:fs";
import { join } from "node:path";
import { build, environment, missingPackages, ROOT } from "./build.ts";
import { machine, type Row, table, unmeasured } from "./row.ts";

/** Pseudo-terminals each needs. */
const BENCHES: Readonly<Record<string, number>> = {
  engine: 0,
  start: 1,
  "live-path": 4,
  "stop-call": 3,
  "many-stations": 128,
  "record-size": 1,
};

process.exitCode = await main(process.argv.slice(2));

async function main(words: readonly string[]): Promise<number> {
  const quick = words.includes("--quick");
  const named = words.filter((word) => word !== "--quick");
  const unknown = named.find((name) => !Object.hasOwn(BENCHES, name));
  if (unknown !== undefined) {
    console.error(`There is no bench ${unknown}; there are ${Object.keys(BENCHES).join(", ")}, and --quick.`);
    return 2;
  }
  const missing = missingPackages();
  if (missing.length > 0) {
    console.error(`The benches need programs that are not here. As root: apt-get install -y ${missing.join(" ")}`);
    return 1;
  }
  const folder = build();
  if (folder === null) return 1;
  process.on("exit", () => rmSync(folder, { recursive: true, force: true }));
  for (const signal of ["SIGINT", "SIGTERM"] as const) process.on(signal, () => process.exit(1));
  console.log(`${machine()}${quick ? ", quick" : ""}`);
  const rows: Row[] = [];
  for (const name of named.length > 0 ? named : Object.keys(BENCHES)) {
    console.error(`${name} ...`);
    rows.push(...(await run(folder, name, quick)));
  }
  console.log(table(rows));
  return rows.every(({ ok }) => ok) ? 0 : 1;
}

async function run(folder: string, name: string, quick: boolean): Promise<readonly Row[]> {
  const ptys = BENCHES[name] ?? 0;
  const node = [process.execPath, join(folder, "tests", "bench", `${name}.js`), ...(quick ? ["--quick"] : [])];
  const command = ptys === 0 ? node : ["perl", join(ROOT, "tests", "bench", "ptys.pl"), String(ptys), ...node];
  const child = spawn(command[0] as string, command.slice(1), {
    stdio: ["ignore", "inherit", "inherit", "ipc"],
    env: environment(),
  });
  let rows: readonly Row[] | null = null;
  child.on("message", (said: readonly Row[]) => {
    rows = said;
  });
  await once(child, "exit");
  return rows ?? [unmeasured(name, "", "it broke; see above")];
}

/** `npm run bench`: builds, then measures what the speed budgets name. Exits 1 where one is missed. */
import { spawnSync } from "node:child_process";
import { cpus } from "node:os";
import { fileURLToPath } from "node:url";
import { halfSines, readingsOf, setupOf } from "../recorder/set-engine/run.ts";
import { type Measured, measure } from "./engine.ts";

const BLOCKS = 7;
const BUDGET_MILLIONS = 2;

const root = fileURLToPath(new URL("../..", import.meta.url));
const built = spawnSync("npm", ["run", "--silent", "build"], { cwd: root, stdio: "inherit" });
if (built.status !== 0) process.exit(built.status ?? 1);
const engine = await import(new URL("../../dist/recorder/set-engine/engine.js", import.meta.url).href);

/** Sets of 200 s that do not end, at 80 readings a second with noise. */
const hold = readingsOf({ force: (at_s) => (at_s < 1 ? 0 : 1000 * Math.exp(-at_s / 400)), lasts_s: 200, noise_N: 2 });
const repetitions = halfSines(
  Array.from({ length: 80 }, (_, index) => [1 + index * 2.4, 2, 1000 - index * 2] as const),
);
const strokes = readingsOf({ force: repetitions, lasts_s: 195, noise_N: 1 });
const neverLettingGo = readingsOf({
  force: (at_s) => (at_s < 1 ? 0 : Math.max(repetitions(at_s), 250)),
  lasts_s: 195,
  noise_N: 1,
});

const measured: Measured[] = [
  measure(engine, "hold", setupOf({}), hold, BLOCKS),
  measure(engine, "continuous", setupOf({ style: "continuous" }), strokes, BLOCKS),
  measure(engine, "continuous, never let go", setupOf({ style: "continuous" }), neverLettingGo, BLOCKS),
  measure(engine, "rest-pause", setupOf({ style: "rest-pause" }), strokes, BLOCKS),
];
console.log(
  `set engine alone, one core (${cpus()[0]?.model ?? "unknown"}), Node ${process.versions.node}, ${BLOCKS} blocks`,
);
for (const { style, median, least, most } of measured) {
  const range = `${least.toFixed(2)}..${most.toFixed(2)}`;
  console.log(`${style.padEnd(26)} ${median.toFixed(2)} million readings a second (${range})`);
}
const missed = measured.filter(({ median }) => median < BUDGET_MILLIONS);
if (missed.length > 0) {
  console.error(`Below ${BUDGET_MILLIONS} million: ${missed.map(({ style }) => style).join(", ")}.`);
  process.exit(1);
}

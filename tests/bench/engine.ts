/** How many readings a second the set engine alone takes on one core, on sets of 200 s that do not end, with noise. */
import { arm, step } from "../../recorder/set-engine/engine.ts";
import type { EngineInput } from "../../recorder/set-engine/inputs.ts";
import type { SetSetup } from "../../recorder/set-engine/setup.ts";
import type { EngineState } from "../../recorder/set-engine/state.ts";
import { halfSines, readingsOf, setupOf } from "../recorder/set-engine/run.ts";
import type { Row } from "./row.ts";
import { median } from "./statistics.ts";

const READINGS = 2_000_000;
const BUDGET_MILLIONS = 2;

const repetitions = halfSines(
  Array.from({ length: 80 }, (_, index) => [1 + index * 2.4, 2, 1000 - index * 2] as const),
);
const strokes = readingsOf({ force: repetitions, lasts_s: 195, noise_N: 1 });
const SETS: Readonly<Record<string, readonly [SetSetup, readonly EngineInput[]]>> = {
  hold: [
    setupOf({}),
    readingsOf({ force: (at_s) => (at_s < 1 ? 0 : 1000 * Math.exp(-at_s / 400)), lasts_s: 200, noise_N: 2 }),
  ],
  continuous: [setupOf({ style: "continuous" }), strokes],
  "continuous, never let go": [
    setupOf({ style: "continuous" }),
    readingsOf({ force: (at_s) => (at_s < 1 ? 0 : Math.max(repetitions(at_s), 250)), lasts_s: 195, noise_N: 1 }),
  ],
  "rest-pause": [setupOf({ style: "rest-pause" }), strokes],
};

process.send?.(Object.keys(SETS).map((style) => rowOf(style, process.argv.includes("--quick") ? 3 : 7)));

function rowOf(style: string, blocks: number): Row {
  const [setup, inputs] = SETS[style] as readonly [SetSetup, readonly EngineInput[]];
  // The first block is the compiler's.
  const rates = Array.from({ length: blocks + 1 }, () => rate(style, setup, inputs)).slice(1);
  const millions = median(rates);
  return {
    what: `engine alone, ${style}`,
    budget: `>= ${BUDGET_MILLIONS} million readings/s`,
    measured: `${millions.toFixed(2)} million (${Math.min(...rates).toFixed(2)}..${Math.max(...rates).toFixed(2)})`,
    against_itself: "",
    ok: millions >= BUDGET_MILLIONS,
  };
}

/** Readings a second, millions. */
function rate(style: string, setup: SetSetup, inputs: readonly EngineInput[]): number {
  const began_ms = performance.now();
  let done = 0;
  while (done < READINGS) {
    let state: EngineState = arm(setup, 0);
    for (const input of inputs) state = step(state, input).state;
    if (state.is !== "holding" && state.is !== "exerting")
      throw new Error(`${style}: the set ended, so it measured nothing`);
    done += inputs.length;
  }
  return done / 1000 / (performance.now() - began_ms);
}

/**
 * How many readings a second the set engine alone takes on one core. Run from the build: the loader of the sources adds
 * work of its own to every call.
 */
import type { EngineInput } from "../../recorder/set-engine/inputs.ts";
import type { SetSetup } from "../../recorder/set-engine/setup.ts";
import type { EngineState } from "../../recorder/set-engine/state.ts";

interface Engine {
  arm(setup: SetSetup, at_us: number): EngineState;
  step(state: EngineState, input: EngineInput): { state: EngineState };
}

export interface Measured {
  readonly style: string;
  /** Readings a second, millions: median of the blocks, the least and the most. */
  readonly median: number;
  readonly least: number;
  readonly most: number;
}

const READINGS = 2_000_000;

export function measure(
  engine: Engine,
  style: string,
  setup: SetSetup,
  inputs: readonly EngineInput[],
  blocks: number,
): Measured {
  const rates: number[] = [];
  // The first block is the compiler's.
  for (let block = 0; block <= blocks; block++) {
    const began_ms = performance.now();
    let done = 0;
    while (done < READINGS) {
      let state = engine.arm(setup, 0);
      for (const input of inputs) state = engine.step(state, input).state;
      if (state.is !== "holding" && state.is !== "exerting")
        throw new Error(`${style}: the set ended, so it measured nothing`);
      done += inputs.length;
    }
    if (block > 0) rates.push(done / 1000 / (performance.now() - began_ms));
  }
  rates.sort((a, b) => a - b);
  return {
    style,
    median: rates[rates.length >> 1] as number,
    least: rates[0] as number,
    most: rates.at(-1) as number,
  };
}

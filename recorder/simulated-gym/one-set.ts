/** One set at a simulated station, from an empty machine to the stop, as fast as it can be computed. */
import { encodeHostLine } from "../../protocol/serial-line/encode.ts";
import { hear, next, powerUp, type SimulatedStation, sit, type Truth } from "./station.ts";
import type { Trainee } from "./trainee.ts";

export interface OneSet {
  readonly trainee: Trainee;
  readonly seed: number;
  /** Device time with nobody there, before the trainee sits down and lamp 1 comes on. */
  readonly empty_s: number;
  /** Each conversion as it comes, the empty machine's too. true: the set is over, and so is this. */
  readonly take: (conversion: Pick<Truth, "at_us" | "counts" | "muscle_action">) => boolean;
}

/** A board that hears nothing for 5 s takes the recorder for gone. */
const SPEAK_EVERY_S = 2;
/** Longer than any set may last. */
const GIVE_UP_S = 1800;

export function performSet(station: SimulatedStation, { trainee, seed, empty_s, take }: OneSet): void {
  const lamp_1 = `${encodeHostLine({ kind: "lamp", command: 1, lamp: 1, to: "on" })}\n`;
  let { state } = powerUp(station, seed);
  let speaks_s = empty_s;
  while (state.at_us < GIVE_UP_S * 1e6) {
    const step = next(station, state, seed);
    state = step.state;
    if (take(step.truth)) return;
    if (state.at_us < speaks_s * 1e6) continue;
    if (speaks_s === empty_s) state = sit(state, trainee);
    state = hear(station, state, lamp_1, seed).state;
    speaks_s += SPEAK_EVERY_S;
  }
  throw new Error(`a set of ${trainee.code} at ${station.id} came to no end`);
}

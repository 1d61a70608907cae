/** A handful of sets as the station itself judges and keeps them, of several lengths, to be copied with other names and numbers. */
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { encodeInputLog } from "../../../recorder/store/input-log.ts";
import { type Bench, holdCurve, readyBench, repetitions } from "../../recorder/station/bench.ts";
import { numbers } from "../../recorder/store/invented.ts";

export interface Template {
  readonly message: SetMessage;
  readonly log: Uint8Array;
}

/** Uniform, of one reading: the noise of a good amplifier at its highest gain, in counts; and of its clock. */
const NOISE_COUNTS = 120;
const JITTER_US = 60;

export function templates(seed: number): readonly Template[] {
  const next = numbers(seed);
  return [30, 60, 90].flatMap((lasts_s) => [
    taken(
      bench("hold")
        .pull(0.5, 0)
        .pull(lasts_s + 20, holdCurve(1400, lasts_s / 2, 1400 / lasts_s)),
      next,
    ),
    taken(
      bench("continuous")
        .pull(0.5, 0)
        .pull(lasts_s, repetitions(2.5, 1.6, ...tiring(lasts_s / 2.5))),
      next,
    ),
  ]);
}

const bench = (style: "hold" | "continuous"): Bench => readyBench({ noise_counts: NOISE_COUNTS }).begin({ style });

const tiring = (repetitions: number): number[] =>
  Array.from({ length: Math.ceil(repetitions) }, (_, index) => 1500 * (1 - (0.35 * index) / repetitions));

function taken(bench: Bench, next: () => number): Template {
  bench.ask("end");
  const [kept] = bench.kept;
  if (kept === undefined) throw new Error("a template is no set");
  // The bench's board is exact; a board's own clock is not.
  const at_us = Array.from(kept.log.at_us, (at) => at + Math.round(JITTER_US * next()));
  return { message: kept.message, log: encodeInputLog({ ...kept.log, at_us }) };
}

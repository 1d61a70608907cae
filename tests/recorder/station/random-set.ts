/** Sets drawn by chance, with all that happens on a real line: one seed, one set. For properties over whole sets. */
import fc from "fast-check";
import type { MuscleAction, Style } from "../../../protocol/vocabulary.ts";
import { type Bench, readyBench } from "./bench.ts";

export interface Drawn {
  readonly style: Style;
  readonly rate_Hz: number;
  readonly threshold: number;
  readonly subtract_resting: boolean;
  readonly knows_action: boolean;
  readonly rest_s: number;
  readonly peaks_N: readonly number[];
  readonly lasts_s: readonly number[];
  readonly noise_counts: number;
  /** What happens at which reading of the set. */
  readonly happens: readonly { readonly at: number; readonly what: Happening }[];
  readonly seed: number;
}

const HAPPENINGS = ["spike", "lost", "rejected", "gap", "pain", "saturated"] as const;
type Happening = (typeof HAPPENINGS)[number];

export const drawnOf = (style: Style): fc.Arbitrary<Drawn> =>
  fc.record({
    style: fc.constant(style),
    rate_Hz: fc.constantFrom(40, 80, 94),
    threshold: fc.constantFrom(0.12, 0.25, 0.4, 0.6),
    subtract_resting: fc.boolean(),
    knows_action: fc.boolean(),
    rest_s: fc.double({ min: 0.3, max: 2.5, noNaN: true }),
    peaks_N: fc.array(fc.double({ min: 150, max: 2500, noNaN: true }), { minLength: 3, maxLength: 7 }),
    lasts_s: fc.array(fc.double({ min: 0.2, max: 4, noNaN: true }), { minLength: 3, maxLength: 5 }),
    noise_counts: fc.constantFrom(3, 40, 400),
    happens: fc.array(fc.record({ at: fc.nat({ max: 2000 }), what: fc.constantFrom<Happening>(...HAPPENINGS) }), {
      maxLength: 6,
    }),
    seed: fc.nat({ max: 1_000_000 }),
  });

export interface Watching {
  /** Called after every reading of the set. */
  readonly reading?: (bench: Bench) => void;
  readonly bench?: ConstructorParameters<typeof Bench>[0];
}

/** The set as it was drawn, run to its end: by itself, or by the request that follows. */
export function runDrawn(drawn: Drawn, watching: Watching = {}): Bench {
  const { style, rate_Hz, noise_counts, subtract_resting } = drawn;
  const bench = readyBench({
    rate_Hz,
    noise_counts,
    station: { subtract_resting, return_stroke: "unloaded", style },
    ...watching.bench,
  });
  bench
    .begin({ fatigue_threshold: drawn.threshold, options: { below_floor_to_stop: 2, rest_limit_s: 3 } })
    .pull(0.3, 5);
  if (subtract_resting) {
    bench.ask("resting");
    bench.pull(1.1, 5);
  }
  let index = 0;
  for (const [effort, peak_N] of drawn.peaks_N.entries()) {
    const lasts_s = (drawn.lasts_s[effort % drawn.lasts_s.length] ?? 1) * (style === "hold" ? 3 : 1);
    const action: MuscleAction | null = drawn.knows_action ? (effort % 2 === 0 ? "concentric" : "eccentric") : null;
    const curve = (s: number): number =>
      5 + peak_N * Math.min(1, s / 0.2, Math.max(0, (lasts_s - s) / 0.2)) * (1 - (0.3 * s) / lasts_s);
    for (let s = 0; s < lasts_s + drawn.rest_s; s += 1 / rate_Hz) {
      for (const { at, what } of drawn.happens) if (at === index) happen(bench, what);
      bench.read(bench.countsOf(s < lasts_s ? curve(s) : 5), s < lasts_s ? action : null);
      index += 1;
      watching.reading?.(bench);
    }
  }
  if (bench.station.set !== null) bench.ask("end", { because: "done" });
  return bench;
}

function happen(bench: Bench, what: Happening): void {
  switch (what) {
    case "spike":
      bench.read(bench.countsOf(12_000));
      break;
    case "saturated":
      bench.read(8_388_607);
      break;
    case "lost":
      bench.board.lose(2);
      break;
    case "rejected":
      bench.give({ kind: "line", text: "R,1,2,3*0000", arrived_at_us: bench.now_ms * 1000 });
      break;
    case "gap":
      bench.wait(0.45);
      break;
    case "pain":
      if (bench.station.set !== null) bench.ask("end", { because: "pain" });
  }
}

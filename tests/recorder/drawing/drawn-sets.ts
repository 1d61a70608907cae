/** Sets to be drawn, one of each style and of each kind of end, run on the bench: message, curve and floor as the recorder has them. */
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { FloorSteps, SetCurve } from "../../../recorder/drawing/set-plot-facts.ts";
import type { InputLog } from "../../../recorder/ports.ts";
import { floorSteps } from "../../../recorder/run/floor-steps.ts";
import { curveOf } from "../../../recorder/run/replay.ts";
import { type Bench, holdCurve, readyBench, repetitions } from "../station/bench.ts";

export interface DrawnSet {
  readonly message: SetMessage;
  readonly curve: SetCurve;
  readonly floor: FloorSteps | null;
}

/** Peaks that rise a little, then tire. */
const tiring = (count: number, best_N: number, share: number): number[] =>
  Array.from({ length: count }, (_, index) =>
    Math.round(best_N * Math.min(0.93 + 0.035 * index, 1.06 - (share * index) / count) + 7 * Math.sin(5 * index)),
  );

/** A repetition as a person does it: up, over, and down again. */
const round =
  (every_s: number, lasts_s: number, peaks_N: readonly number[]) =>
  (s: number): number => {
    const index = Math.min(peaks_N.length - 1, Math.floor(s / every_s));
    const share = (s % every_s) / lasts_s;
    return share >= 1 ? 6 : 6 + (peaks_N[index] ?? 0) * Math.sin(Math.PI * share) ** 0.6;
  };

const SETS: Readonly<Record<string, () => Bench>> = {
  /** The leg's weight is taken and subtracted; a late second best raises the floor. */
  hold: () => {
    const bench = readyBench({
      station: { style: "hold", subtract_resting: true, resistance: "locked" },
      noise_counts: 900,
    });
    bench.begin({ side: "left", fatigue_threshold: 0.25 }).pull(0.4, 38);
    bench.ask("resting");
    bench.pull(1.2, 38);
    const climbing = (s: number): number =>
      38 + Math.max(0, Math.min(1500 * s, 560 + 12 * Math.min(s, 9), 668 - 14 * (s - 9)));
    return bench.pull(40, climbing);
  },
  /** Nobody listens for the stop: let go well above the floor. */
  "hold-let-go": () => {
    const bench = readyBench({ station: { style: "hold", resistance: "locked" }, noise_counts: 900 });
    const curve = holdCurve(820, 4, 9);
    return bench
      .begin({ fatigue_threshold: 0.4 })
      .pull(1, 0)
      .pull(12, curve)
      .pull(3, (s) => Math.max(4, 748 - 2600 * s));
  },
  "hold-sensor-fault": () => {
    const bench = readyBench({ station: { style: "hold", resistance: "locked" }, noise_counts: 900 });
    bench
      .begin({ fatigue_threshold: 0.4 })
      .pull(1, 0)
      .pull(6, holdCurve(900, 3, 12));
    bench.wait(0.5).pull(5, (s) => 860 - 12 * s);
    return bench.wait(4);
  },
  continuous: () =>
    readyBench({ station: { style: "continuous" }, noise_counts: 2500 })
      .begin({ side: "both", fatigue_threshold: 0.4 })
      .pull(1, 5)
      .pull(90, round(2.4, 1.7, tiring(17, 2300, 0.62))),
  /** Two in a row, and a touch while changing the grip. */
  "continuous-thirty": () =>
    readyBench({ station: { style: "continuous", exercise_label: "Chest press" }, noise_counts: 1500 })
      .begin({ fatigue_threshold: 0.25 })
      .pull(1, 5)
      .pull(150, round(1.6, 1.15, tiring(40, 1150, 0.5))),
  "eccentric-only": () =>
    readyBench({ station: { style: "eccentric-only", exercise_label: "Pull-down" }, noise_counts: 1500 })
      .pull(0.5, 6, "concentric")
      .begin({ fatigue_threshold: 0.25 })
      .pull(1, 5)
      .pull(
        140,
        (s) => {
          const within_s = s % 9;
          const peak_N = tiring(14, 1400, 0.5)[Math.floor(s / 9)] ?? 600;
          if (within_s < 3.6) return 6 + peak_N * Math.min(1, within_s / 0.5, (3.6 - within_s) / 0.4);
          return within_s < 6 ? 180 : 6;
        },
        (s) => (s % 9 < 3.6 ? "eccentric" : s % 9 < 6 ? "concentric" : null),
      ),
  "rest-pause": () =>
    readyBench({ station: { style: "rest-pause" }, noise_counts: 1500 })
      .begin({ fatigue_threshold: 0.3, side: "right", options: { rest_limit_s: 15 } })
      .pull(1, 5)
      .pull(4, repetitions(2, 1.2, 1500, 1540))
      .pull(8, 5)
      .pull(4, repetitions(2, 1.2, 1460, 1430))
      .pull(0.6, (s) => (s < 0.35 ? 300 : 5))
      .pull(8, 5)
      .pull(4, repetitions(2, 1.2, 1300, 1290))
      .pull(30, 5),
  /** Force equals load, fresh or spent: no floor, no loss. */
  stack: () => {
    const bench = readyBench({ station: { style: "continuous", resistance: "stack" } });
    bench
      .begin({})
      .pull(1, 5)
      .pull(24, round(3, 2.2, [400, 405, 400, 402, 399, 400, 401, 400]));
    bench.ask("end", { because: "done" });
    return bench;
  },
  /** One strong repetition that no other came near, and simulated spikes on the line. */
  unconfirmed: () => {
    const bench = readyBench({ station: { style: "continuous" }, noise_counts: 1500 });
    bench.begin({ fatigue_threshold: 0.5 }).pull(1, 5);
    const peaks_N = [1000, 1010, 1500, 1005, 980, 900, 820, 720, 640, 520, 400];
    bench.pull(5, round(2.5, 1.8, peaks_N));
    bench.read(bench.countsOf(14_000));
    return bench.pull(25, (s) => round(2.5, 1.8, peaks_N.slice(2))(s));
  },
};

export const SET_NAMES = Object.keys(SETS);

export function keptSet(name: string): { readonly message: SetMessage; readonly log: InputLog } {
  const kept = SETS[name]?.().kept.at(-1);
  if (kept === undefined) throw new Error(`${name} made no set`);
  return kept;
}

/** A bench takes half a second; what it made does not change. */
const made = new Map<string, Promise<DrawnSet>>();

export function drawnSet(name: string): Promise<DrawnSet> {
  const drawn = made.get(name) ?? drawOut(name);
  made.set(name, drawn);
  return drawn;
}

async function drawOut(name: string): Promise<DrawnSet> {
  const { message, log } = keptSet(name);
  return { message, curve: await curveOf(log, message), floor: floorSteps(message, log) };
}

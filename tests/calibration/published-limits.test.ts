/**
 * What standards allow a cell and a weighing instrument, against what the simulated rigs do and what the zero may do.
 * None of this is such an instrument; the limits are a measure, and ours are to be no wider.
 *
 * Creep: OIML R 60-1:2021, 5.5.1 (read): a class C cell of 3000 v with the default share of 0.7 may creep by
 * 0.7 x (0.7 x 1.5 v) = 0.735 v in 30 minutes near capacity, and by 0.15 x (0.7 x 1.5 v) = 0.1575 v from minute 20 to 30.
 * Zero: OIML R 76-1:2006, 4.5.1 and 4.5.7 (from secondary sources): zeroing moves by at most 4 % of capacity, tracking by
 * at most 0.5 d a second, and only in equilibrium.
 */
import { describe, expect, it } from "vitest";
import { DWELL_US, WINDOW_US } from "../../calibration/procedure/still-window.ts";
import { division_N } from "../../calibration/scale.ts";
import { convert, type Rig, trueCountsPerN, trueZeroCounts, UNLOADED } from "../../recorder/simulated-gym/rig.ts";
import { gymConfiguration, rigFor } from "../../recorder/simulated-gym/scenario.ts";
import { FACTS, ZeroBench } from "./zero/zero-bench.ts";

const gym = gymConfiguration({ store: "none.db", socket: "a.sock", service_socket: "b.sock", port: 0 });
const SEEDS = [1, 2, 3, 4, 5, 6, 7, 8];
const rigs = SEEDS.flatMap((seed) => gym.station.map((station) => rigFor(station, seed)));

/** What a rig shows of a load, N, as the mean of a second at each of these s after it was put on. */
function shown_N(rig: Rig, load_N: number, after_s: readonly number[]): number[] {
  const still: Rig = { ...rig, temperature_swing_degC: 0, spikes_per_hour: 0 };
  const last_s = Math.max(...after_s) + 1;
  const sums = after_s.map(() => 0);
  let state = UNLOADED;
  for (let reading = 0; reading < last_s * 10; reading += 1) {
    const at_s = reading / 10;
    const moment = { handle_N: load_N, elapsed_s: 0.1, at_s, gain: 128, rate: 10 } as const;
    const step = convert(still, state, moment, 7);
    state = step.state;
    for (const [index, from_s] of after_s.entries()) {
      if (at_s >= from_s && at_s < from_s + 1) sums[index]! += step.counts / 10;
    }
  }
  return sums.map((counts) => (counts - trueZeroCounts(rig, 128)) / trueCountsPerN(rig, 128));
}

describe("creep of the simulated cells", () => {
  it("keeps to what a class C cell of 3000 v is allowed, and uses a good part of it", () => {
    const shares = rigs.map((rig) => {
      const v_N = rig.cell_capacity_N / 3000;
      const [first, at_20_min, at_30_min] = shown_N(rig, 0.95 * rig.cell_capacity_N, [0, 1200, 1800]) as [
        number,
        number,
        number,
      ];
      expect(Math.abs(at_30_min - at_20_min) / v_N).toBeLessThan(0.1575);
      return Math.abs(at_30_min - first) / v_N;
    });
    expect(Math.max(...shares)).toBeLessThan(0.735);
    // Cells that hardly crept would make every trial with them an easy one.
    expect(Math.max(...shares)).toBeGreaterThan(0.735 / 2);
  });

  it("from the window of a capture to the end of the longest hold stays under 0.02 % of the load", () => {
    // Loading and stabilising time, OIML R 60-2 (read): 20 s for a class C cell up to 100 kg, 30 s up to 1000 kg.
    expect(DWELL_US).toBe(20e6);
    for (const rig of rigs) {
      const load_N = rig.cell_capacity_N / 2;
      const [captured, early, late] = shown_N(rig, load_N, [DWELL_US / 1e6 + WINDOW_US / 2e6, 2, 240]) as [
        number,
        number,
        number,
      ];
      expect(Math.abs(late - captured) / load_N).toBeLessThan(2e-4);
      expect(Math.abs(early - captured) / load_N).toBeLessThan(2e-4);
    }
  });
});

describe("the zero, beside what a weighing instrument may do", () => {
  const d_N = division_N(FACTS.capacity_N);

  it("tracks at most a tenth of the 0.5 d a second that is allowed there", () => {
    const bench = new ZeroBench();
    // As fast as it will follow: just inside the band all the time.
    const shifts: number[] = [];
    for (let second = 0; second < 1200; second += 1) {
      bench.read(bench.shift_N + 1.9 * d_N, 1);
      shifts.push(bench.shift_N);
    }
    const fastest = Math.max(...shifts.slice(10).map((shift_N, index) => (shift_N - shifts[index]!) / 10));
    expect(fastest).toBeGreaterThan(0);
    expect(fastest).toBeLessThanOrEqual((0.5 * d_N) / 10 + 1e-9);
    expect(bench.alarms()).toEqual([]);
  });

  it("asked for, it moves by at most 4 % of capacity, however often somebody asks", () => {
    const bench = new ZeroBench();
    const most_N = 0.04 * FACTS.capacity_N;
    for (let time = 0; time < 12; time += 1) {
      const here_N = bench.shift_N + 24;
      bench.read(here_N, 20).ask(`asked-${time}`).read(here_N, 3);
    }
    expect(bench.shift_N).toBeGreaterThan(0.9 * most_N);
    expect(bench.shift_N).toBeLessThanOrEqual(most_N);
    expect(bench.error("asked-11")).not.toBe("none");
  });

  it("does not move while the machine is in use or moves", () => {
    for (const flags of [{ idle: false }, { still: false }]) {
      const bench = new ZeroBench().read(d_N, 600, flags);
      expect(bench.shift_N).toBe(0);
    }
  });
});

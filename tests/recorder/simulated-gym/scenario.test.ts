import { describe, expect, it } from "vitest";
import { calibrationRecordSchema } from "../../../calibration/record.ts";
import { VERBS } from "../../../protocol/requests/verbs.ts";
import { trueCountsPerN, trueZeroCounts } from "../../../recorder/simulated-gym/rig.ts";
import {
  calibrationsOf,
  gymConfiguration,
  plansOf,
  rigFor,
  stationsOf,
} from "../../../recorder/simulated-gym/scenario.ts";

const SEED = 4;
const NOW_MS = Date.UTC(2026, 10, 24, 9);
const IDS = [
  "019ab3f0-0000-7000-8000-000000000001",
  "019ab3f0-0000-7000-8000-000000000002",
  "019ab3f0-0000-7000-8000-000000000003",
];
const configuration = gymConfiguration({ store: "x.db", socket: "a.sock", service_socket: "b.sock", port: 0 });

describe("the gym", () => {
  it("has three stations whose boards answer to the names the configuration expects", () => {
    const stations = stationsOf(configuration, SEED);
    expect(stations).toHaveLength(3);
    for (const [index, station] of configuration.station.entries()) {
      expect(station.serial_port).toBe(`simulated:${stations[index]!.id}`);
      expect(stations[index]!.board.board).toBe(station.board);
      expect(stations[index]!.board).toMatchObject({ gain: station.gain, rate: station.rate });
    }
  });

  it("has calibration records that are valid, days old, and within their own uncertainty of the true scale", () => {
    const records = calibrationsOf(configuration, { now_ms: NOW_MS, days_ago: 12, ids: IDS }, SEED);
    for (const [index, station] of configuration.station.entries()) {
      const record = calibrationRecordSchema.parse(records[index]);
      expect(record.at).toBe("2026-11-12T09:00:00.000Z");
      expect(record.board).toBe(station.board);
      const rig = rigFor(station, SEED);
      const true_counts =
        trueZeroCounts(rig, station.gain) + trueCountsPerN(rig, station.gain) * station.working_force_N;
      const said_N = (true_counts - record.zero_counts) / record.counts_per_N;
      const error_N = Math.abs(said_N - station.working_force_N);
      // Half of it beyond k = 2 would be 1 in 20; creep within the dwell adds a little.
      expect(error_N).toBeLessThan(record.expanded_uncertainty_N);
      expect(error_N).toBeGreaterThan(0);
      expect(record.expanded_uncertainty_N).toBeLessThan(0.02 * station.working_force_N);
    }
  });

  it("asks for sets in words the service takes, by codes, within what the cells and load paths bear", () => {
    for (const plan of plansOf(configuration, null)) {
      const station = configuration.station.find(({ id }) => id === plan.station)!;
      expect(plan.visits.length).toBeGreaterThan(0);
      for (const { trainee, begun_by } of plan.visits) {
        expect(trainee.code).toMatch(/^[a-z]+-\d\d$/);
        expect(Math.max(...Object.values(trainee.strength_N))).toBeLessThan(station.force_limit_N);
        // Relaxed, nobody is over the onset: 1 % of capacity, at least 20 N.
        expect(trainee.resting_force_N).toBeLessThan(0.6 * Math.max(20, 0.01 * station.cell_capacity_N));
        if (!("request" in begun_by)) continue;
        expect(VERBS.begin.args.safeParse({ station: plan.station, ...begun_by.request }).success).toBe(true);
        expect(begun_by.request.trainee).toBe(trainee.code);
      }
    }
  });

  it("begins one set with the key, and closes after as many as asked", () => {
    const plans = plansOf(configuration, 1);
    expect(plans.flatMap(({ visits }) => visits).filter(({ begun_by }) => "key" in begun_by)).toHaveLength(1);
    expect(plans.map(({ closes_after }) => closes_after)).toEqual([1, 1, 1]);
  });
});

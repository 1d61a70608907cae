/** What becomes known of a set only once it is over: how far the zero had moved meanwhile. A revision brings it. */
import { watchZeroAfter, type ZeroFound } from "../../calibration/zero/zero-after.ts";
import { forceOut } from "../../protocol/units.ts";
import type { ArmFacts } from "./arm-facts.ts";
import type { Sensor } from "./sensor.ts";
import type { Station, Step } from "./state.ts";

/** From now on the sensor is watched for where it comes to rest. */
export function watchAfterSet(sensor: Sensor, { set_id, zero_counts, calibration, setup }: ArmFacts): Sensor {
  const { counts_per_N } = calibration;
  const measured = { zero_counts, counts_per_N, capacity_N: setup.cell_capacity_N };
  return { ...sensor, after: watchZeroAfter(set_id, sensor.at_us, measured) };
}

export function reviseZeroShift(station: Station, { of, zero_shift_N }: ZeroFound): Step {
  return { station, effects: [{ do: "revise", set_id: of, changes: { zero_shift_N: forceOut(zero_shift_N) } }] };
}

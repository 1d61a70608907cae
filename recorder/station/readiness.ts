/**
 * What speaks against a set here now, in the order it is told. `ready` and `reasons` of the sensor and the refusal of a
 * begin are made of the same list. A set that is armed or running is not in it: `state` tells of that one.
 */
import { refusal } from "../../calibration/outcome.ts";
import { busyCalibrating } from "../../calibration/procedure/procedure-refusals.ts";
import type { Refusal } from "../../protocol/vocabulary.ts";
import { whoseSet } from "./arm-facts.ts";
import { troubleOf } from "./board.ts";
import { type SensorFacts, unfit } from "./resolve.ts";
import { busySelfTest } from "./self-test-state.ts";
import { openProcedure, type Station } from "./state.ts";

const NOT_MEASURED = refusal(
  "sensor-fault",
  "Readings have only just begun, and their rate is not known yet.",
  "Ask again in two seconds.",
).error;

/** Whoever measured now would not know by which record. */
export const PUTTING_IN_FORCE = refusal(
  "busy",
  "Another calibration record is being put in force here.",
  "Ask again in a moment.",
).error;

/** Who has the station, for whoever wants it all for himself; null: nobody. There is but one at a time. */
export function takenAlready(station: Station): Refusal | null {
  const { set, self_test, desk, configuration } = station;
  const procedure = openProcedure(station);
  if (procedure !== null) return busyCalibrating(procedure);
  if (self_test !== null) return busySelfTest(self_test);
  if (desk.putting_in_force) return PUTTING_IN_FORCE;
  if (set === null) return null;
  const message = `A set of ${whoseSet(set.path.facts)} is set up or running at ${configuration.id}.`;
  return refusal("busy", message, "End it first.").error;
}

/** Whatever the set; the style and the threshold asked for may find more. */
export function obstaclesTo(station: Station): readonly Refusal[] {
  const { desk, sensor, configuration, self_test } = station;
  const obstacles: Refusal[] = [];
  const procedure = openProcedure(station);
  if (procedure !== null) obstacles.push(busyCalibrating(procedure));
  if (self_test !== null) obstacles.push(busySelfTest(self_test));
  if (desk.putting_in_force) obstacles.push(PUTTING_IN_FORCE);
  const fault = troubleOf(station);
  if (fault !== null) obstacles.push({ code: "sensor-fault", message: fault });
  const broken = desk.alarms.find((alarm) => alarm.code === "inspect");
  if (broken !== undefined) {
    const hint = "A technician says `inspected` afterwards.";
    obstacles.push({ code: "not-permitted", message: broken.detail, hint });
  }
  if (sensor.scale === null) {
    const message = `No calibration is in force at ${configuration.id}.`;
    obstacles.push({ code: "no-calibration", message, hint: "Calibrate with a known load first." });
  } else if (sensor.scale.mismatch !== null) {
    obstacles.push({ code: "no-calibration", message: sensor.scale.mismatch });
  }
  if (fault === null && !isMeasured(station)) obstacles.push(NOT_MEASURED);
  return obstacles;
}

/** Whether the rate is known, and a median of three. */
export const isMeasured = ({ sensor }: Station): boolean =>
  sensor.rate.rate_Hz !== null && !Number.isNaN(sensor.median_counts);

/** The sensor as a set would find it; null: not measured yet. */
export function sensorFacts({ sensor }: Station): SensorFacts | null {
  const { scale, rate, stillness, knows_muscle_action } = sensor;
  if (scale === null || rate.rate_Hz === null) return null;
  // Never still since the start: the calibration knew how noisy the sensor is.
  const recorded_N = (scale.record.points[0]?.noise_counts ?? 0) / Math.abs(scale.record.counts_per_N);
  const noise_N = stillness.judged.noise_N ?? recorded_N;
  return { noise_N, reading_rate_Hz: rate.rate_Hz, knows_muscle_action };
}

/** Why a set as the station is configured for could not be begun now, one sentence each. */
export function reasonsOf(station: Station): readonly string[] {
  const { configuration } = station;
  const facts = sensorFacts(station);
  const unsuited = facts === null ? null : unfit(configuration.style, false, configuration, facts);
  return [...obstaclesTo(station), ...(unsuited === null ? [] : [unsuited.error])].map(({ message }) => message);
}

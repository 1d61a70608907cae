/** The calibrations of a station for people: records, checks, and by when the one in force is to be looked at. */
import { sayInstant } from "../../drawing/instants.ts";
import { type House, sayForce, sayPercent } from "../quantities.ts";
import { sayTable } from "../table.ts";
import { type Kept, type KeptCheck, shortId } from "./kept.ts";

const DAY_MS = 86_400_000;

export function sayKept(kept: Kept, house: House, now_ms: number): string {
  if (kept.calibrations.length === 0) return "no calibration is kept for this station";
  const parts = [sayRecords(kept, house), sayChecks(kept.checks, house), sayDue(kept, house, now_ms)];
  return parts.filter((part) => part !== "").join("\n\n");
}

function sayRecords({ in_force, calibrations }: Kept, house: House): string {
  const rows = calibrations.map((record) => [
    record.calibration_id === in_force ? "in force" : "",
    sayMinute(record.at, house),
    record.counts_per_N.toPrecision(6),
    sayForce(record.expanded_uncertainty_N, house),
    sayDay(record.due, house),
    record.performed_by ?? "-",
    shortId(record.calibration_id),
  ]);
  return sayTable([["", "taken", "counts/N", "U (k = 2)", "due", "by", "id"], ...rows], [2, 3]);
}

export function sayChecks(checks: readonly KeptCheck[], house: House): string {
  if (checks.length === 0) return "";
  const rows = checks.map((check) => [
    sayMinute(check.at, house),
    shortId(check.calibration_id),
    String(check.checks.filter(({ force_N }) => force_N !== 0).length),
    sayPercent(largestError(check), 2),
    sayForce(check.zero_shift_N, house),
    sayDay(check.due, house),
    check.performed_by ?? "-",
    shortId(check.check_id),
  ]);
  return sayTable([["checked", "record", "loads", "worst", "zero", "due", "by", "id"], ...rows], [2, 3, 4]);
}

/** Seconds would not fit in 80 columns. */
const sayMinute = (instant: string, house: House): string => sayInstant(instant, house.time_zone).slice(0, 16);

/** With its sign; null: nothing was hung. */
export function largestError({ checks }: Pick<KeptCheck, "checks">): number | null {
  const errors = checks.flatMap(({ relative_error }) => relative_error ?? []);
  return errors.reduce<number | null>(
    (most, one) => (most === null || Math.abs(one) > Math.abs(most) ? one : most),
    null,
  );
}

function sayDue({ in_force, due }: Kept, house: House, now_ms: number): string {
  if (in_force === null) return "None of them is in force: put one in force with --use, or calibrate.";
  if (due === null) return "";
  const over_ms = now_ms - Date.parse(due);
  if (over_ms < 0) return `The calibration in force is due on ${sayDay(due, house)}.`;
  const days = Math.floor(over_ms / DAY_MS);
  const since = days === 0 ? "today" : days === 1 ? "a day ago" : `${days} days ago`;
  return (
    `The calibration in force is overdue: it was due on ${sayDay(due, house)}, ${since}. ` +
    "Check it with known loads, or calibrate again."
  );
}

export const sayDay = (instant: string | null, house: House): string =>
  instant === null ? "-" : sayInstant(instant, house.time_zone).slice(0, 10);

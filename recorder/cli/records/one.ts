/** One calibration record in words: what was hung, what came of it, and how far to trust it. */
import { sayInstant } from "../../drawing/instants.ts";
import { type House, sayForce, sayPercent } from "../quantities.ts";
import { sayTable } from "../table.ts";
import type { Kept, KeptRecord } from "./kept.ts";
import { sayChecks, sayDay } from "./list.ts";

type Point = KeptRecord["points"][number];
type Check = NonNullable<KeptRecord["checks"]>[number];

export function sayRecord(record: KeptRecord, kept: Kept, house: House): string {
  const later = kept.checks.filter(({ calibration_id }) => calibration_id === record.calibration_id);
  const parts: readonly (readonly [string, string])[] = [
    ["", sayHead(record, kept, house)],
    ["Points", sayPoints(record.points, house)],
    ["Uncertainty budget, each at one standard uncertainty", sayBudget(record, house)],
    ["Known loads hung with it", sayLoads(record.checks ?? [], house)],
    ["Checked since", sayChecks(later, house)],
  ];
  return parts
    .flatMap(([title, text]) => (text === "" ? [] : [title === "" ? text : `${title}\n${text}`]))
    .join("\n\n");
}

function sayHead(record: KeptRecord, kept: Kept, house: House): string {
  const { expanded_uncertainty_N, working_force_N, counts_per_N } = record;
  const share = working_force_N > 0 ? ` (${sayPercent(expanded_uncertainty_N / working_force_N, 2)})` : "";
  const reversed = counts_per_N < 0 ? ", so the wires are reversed, which does no harm" : "";
  const rows: readonly (readonly [string, string])[] = [
    ["calibration", record.calibration_id],
    ["station", record.station],
    ["taken", `${sayInstant(record.at, house.time_zone)} by ${record.performed_by ?? "nobody named"}`],
    ["in force", sayInForce(record, kept, house)],
    ["scale", `${Number(counts_per_N.toPrecision(7))} counts/N${reversed}`],
    ["zero", `${record.zero_counts.toFixed(1)} counts`],
    [
      "uncertainty",
      `${sayForce(expanded_uncertainty_N, house)} at ${sayForce(working_force_N, house, 0)}${share}, k = 2`,
    ],
    ["friction", sayFriction(record, house)],
    ["cell", `${record.cell ?? "not told"}, ${sayForce(record.cell_capacity_N, house, 0)}`],
    [
      "board",
      [record.board, record.amplifier, record.gain === null ? null : `gain ${record.gain}`].map(orNone).join(", "),
    ],
    ["due", sayDay(record.due, house)],
    ["note", record.note ?? "-"],
  ];
  return sayTable(rows);
}

const orNone = (value: string | null): string => value ?? "not named";

function sayInForce({ calibration_id }: KeptRecord, { in_force, in_force_since }: Kept, house: House): string {
  const times = in_force_since.filter((since) => since.calibration_id === calibration_id);
  const [newest] = times;
  if (newest === undefined) return "never";
  const since = sayInstant(newest.at, house.time_zone);
  const by = newest.performed_by === null ? "" : `, put in force by ${newest.performed_by}`;
  return calibration_id === in_force ? `since ${since}${by}` : `not now; last since ${since}${by}`;
}

function sayFriction({ friction_N }: KeptRecord, house: House): string {
  return friction_N === undefined || friction_N === null
    ? "not tried: the load was not reached from both sides"
    : `${sayForce(friction_N, house, 2)} either way, as reached from below and from above`;
}

/** `at` the handle with the lever's angle, or at the cell. */
function sayApplied({ applied }: Pick<Point, "applied">): string {
  if (applied === undefined) return "";
  const { at, lever_angle_deg } = applied;
  return lever_angle_deg === null || lever_angle_deg === 0 ? at : `${at}, lever at ${lever_angle_deg} deg`;
}

const sayMass = (mass_kg: number | null): string => (mass_kg === null ? "" : `${Number(mass_kg.toPrecision(7))} kg`);

function sayPoints(points: readonly Point[], house: House): string {
  const rows = points.map((point) => [
    point.force_N === 0 ? "unloaded" : sayForce(point.force_N, house, 2),
    sayMass(point.mass_kg),
    point.loading ?? "",
    sayApplied(point),
    point.mean_counts.toFixed(1),
    point.standard_error_counts.toFixed(2),
    point.noise_counts.toFixed(1),
    String(point.readings),
  ]);
  const heads = ["load", "mass", "loading", "at", "mean counts", "standard error", "noise", "readings"];
  return sayTable([heads, ...rows], [0, 1, 4, 5, 6, 7]);
}

function sayBudget({ budget, working_force_N }: KeptRecord, house: House): string {
  if (budget.length === 0) return "";
  const rows = [...budget]
    .sort((one, other) => other.standard_uncertainty_N - one.standard_uncertainty_N)
    .map(({ source, standard_uncertainty_N, constant }) => [
      source,
      sayForce(standard_uncertainty_N, house, 2),
      working_force_N > 0 ? sayPercent(standard_uncertainty_N / working_force_N, 3) : "-",
      constant === true ? "the same at every force" : "in proportion to the force",
    ]);
  return sayTable([["source", `at ${sayForce(working_force_N, house, 0)}`, "of it", "elsewhere"], ...rows], [1, 2]);
}

function sayLoads(checks: readonly Check[], house: House): string {
  if (checks.length === 0) return "";
  const rows = checks.map((check) => [
    check.when,
    String(check.series),
    check.loading,
    check.force_N === 0 ? "unloaded" : sayForce(check.force_N, house, 2),
    sayMass(check.mass_kg),
    sayForce(check.indicated_force_N, house, 2),
    sayForce(check.indicated_force_N - check.force_N, house, 2),
    sayPercent(check.relative_error, 2),
  ]);
  const heads = ["", "series", "loading", "load", "mass", "indicated", "error", "of the load"];
  return sayTable([heads, ...rows], [1, 3, 4, 5, 6, 7]);
}

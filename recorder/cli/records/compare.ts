/**
 * Two calibration records side by side: how far the scale and the zero have moved, and whether that is more than both may be
 * off together. Records taken with the same loads share their errors, so a change within the limit proves nothing wrong and
 * one beyond it is real.
 */
import { sayInstant } from "../../drawing/instants.ts";
import { type House, sayForce, sayPercent } from "../quantities.ts";
import { sayTable } from "../table.ts";
import { type KeptRecord, shortId } from "./kept.ts";

export interface Comparison {
  /** By when they were taken. */
  readonly former: string;
  readonly later: string;
  /** Sizes alone: |later / former| - 1. */
  readonly scale_change: number;
  readonly scale_change_ppm: number;
  /** The sign has changed: that is no change of scale, and nothing can be said of the zero. */
  readonly wires_turned: boolean;
  /** The later zero less the former, by the later scale; null where the wires were turned round. */
  readonly zero_change_N: number | null;
  /** Of the later record; where both are looked at. */
  readonly working_force_N: number;
  /** What the change of scale makes there. */
  readonly change_N: number;
  /** k = 2, there. */
  readonly former_expanded_uncertainty_N: number;
  readonly later_expanded_uncertainty_N: number;
  /** Root of the sum of the squares of both. */
  readonly combined_expanded_uncertainty_N: number;
  readonly within: boolean;
  /** What they were taken with, where it differs. */
  readonly differs: readonly { readonly what: string; readonly former: Named; readonly later: Named }[];
}
type Named = string | number | null;

export function compareRecords(one: KeptRecord, other: KeptRecord): Comparison {
  const [former, later] = Date.parse(one.at) <= Date.parse(other.at) ? [one, other] : [other, one];
  const { working_force_N } = later;
  const ratio = later.counts_per_N / former.counts_per_N;
  const scale_change = Math.abs(ratio) - 1;
  const change_N = scale_change * working_force_N;
  const former_expanded_uncertainty_N = expandedAt(former, working_force_N);
  const later_expanded_uncertainty_N = later.expanded_uncertainty_N;
  const combined = Math.hypot(former_expanded_uncertainty_N, later_expanded_uncertainty_N);
  return {
    former: former.calibration_id,
    later: later.calibration_id,
    scale_change,
    scale_change_ppm: scale_change * 1e6,
    wires_turned: ratio < 0,
    zero_change_N: ratio < 0 ? null : (later.zero_counts - former.zero_counts) / later.counts_per_N,
    working_force_N,
    change_N,
    former_expanded_uncertainty_N,
    later_expanded_uncertainty_N,
    combined_expanded_uncertainty_N: combined,
    within: Math.abs(change_N) <= combined,
    differs: TAKEN_WITH.flatMap((what) => {
      const [was, is] = [former[what] ?? null, later[what] ?? null];
      return was === is ? [] : [{ what, former: was, later: is }];
    }),
  };
}

const TAKEN_WITH = ["station", "cell", "cell_capacity_N", "board", "amplifier", "gain"] as const;

/** k = 2 at another force than the record's own, by its budget: what is in proportion goes with the force, the rest stays. */
function expandedAt({ budget, working_force_N, expanded_uncertainty_N }: KeptRecord, force_N: number): number {
  const sum_N = (factor: number): number =>
    Math.hypot(...budget.map((line) => line.standard_uncertainty_N * (line.constant === true ? 1 : factor)));
  const own_N = sum_N(1);
  // Without a budget nothing is known of another force.
  if (own_N === 0 || working_force_N <= 0) return expanded_uncertainty_N;
  return expanded_uncertainty_N * (sum_N(force_N / working_force_N) / own_N);
}

export function sayComparison(one: KeptRecord, other: KeptRecord, house: House): string {
  const found = compareRecords(one, other);
  const [former, later] = found.former === one.calibration_id ? [one, other] : [other, one];
  const rows = [
    ["", "former", "later"],
    ["calibration", shortId(former.calibration_id), shortId(later.calibration_id)],
    ["taken", sayInstant(former.at, house.time_zone), sayInstant(later.at, house.time_zone)],
    ["by", former.performed_by ?? "-", later.performed_by ?? "-"],
    ["scale, counts/N", former.counts_per_N.toPrecision(7), later.counts_per_N.toPrecision(7)],
    ["zero, counts", former.zero_counts.toFixed(1), later.zero_counts.toFixed(1)],
    [
      `uncertainty at ${sayForce(found.working_force_N, house, 0)} (k = 2)`,
      sayForce(found.former_expanded_uncertainty_N, house),
      sayForce(found.later_expanded_uncertainty_N, house),
    ],
    ...found.differs.map(({ what, former: was, later: is }) => [
      what === "cell_capacity_N" ? "cell capacity, N" : what,
      String(was ?? "not named"),
      String(is ?? "not named"),
    ]),
  ];
  return [sayTable(rows, [1, 2]), sayScale(found, house), sayZero(found, house), sayDiffers(found)]
    .filter((part) => part !== "")
    .join("\n\n");
}

function sayScale(found: Comparison, house: House): string {
  const ppm = Math.round(found.scale_change_ppm);
  const sign = ppm > 0 ? "+" : "";
  const much = `${sign}${sayPercent(found.scale_change, 3)} (${sign}${ppm} ppm)`;
  const there = `${sayForce(found.change_N, house, 2)} at ${sayForce(found.working_force_N, house, 0)}`;
  const limit = `the ${sayForce(found.combined_expanded_uncertainty_N, house, 2)} that both may be off together`;
  return found.within
    ? `The scale has changed by ${much}: ${there}, within ${limit}.`
    : `The scale has changed by ${much}: ${there}, more than ${limit}. ` +
        "Something has changed: the cell, its mounting or wiring, or how and where the load was hung.";
}

const sayZero = ({ zero_change_N, wires_turned }: Comparison, house: House): string =>
  wires_turned
    ? "The wires are the other way round; the zeros cannot be compared."
    : `The calibrated zero has moved by ${sayForce(zero_change_N, house, 2)}.`;

const sayDiffers = ({ differs }: Comparison): string =>
  differs.length === 0
    ? ""
    : `They were not taken with the same things (${differs.map(({ what }) => what.replace(/_N$/, "").replaceAll("_", " ")).join(", ")}): a change says nothing of the sensor alone.`;

/** The whole sheet as blocks, in the order a technician files it: who and what, what was measured, what it is not. */
import type { CalibrationRecord } from "../../../calibration/record.ts";
import { sayInstant } from "../../drawing/instants.ts";
import { type House, sayField, sayForce, sayPercent } from "../quantities.ts";
import { type Block, heading, sentence } from "./blocks.ts";
import { CAUTIONS, IS_NOT } from "./caveats.ts";
import { loadName, partBlocks } from "./report-blocks.ts";
import type { Sheet } from "./sheet.ts";

export function sheetBlocks(sheet: Sheet, house: House): readonly Block[] {
  const { record, check, parts } = sheet;
  const title = check === null ? "Calibration" : "Check with known loads";
  return [
    { is: "title", text: `${title}: ${record.station}` },
    { is: "facts", rows: [...visitFacts(sheet, house), ...recordFacts(record, house)] },
    ...(check === null ? calibrationBlocks(record, house) : []),
    ...parts.flatMap((part) => [heading(PART_NAMES[part.report.when]), ...partBlocks(part, house)]),
    ...(parts.length === 0 ? [sentence("No check load was hung.")] : []),
    heading("What this sheet is not"),
    { is: "list", items: IS_NOT },
    heading("Hanging loads"),
    { is: "list", items: CAUTIONS },
    { is: "signature" },
  ];
}

const PART_NAMES = {
  "as-found": "As found, before anything was changed",
  "as-left": "As left, by the new record",
} as const;

function visitFacts({ record, check }: Sheet, house: House): (readonly [string, string])[] {
  const { at, performed_by, due, note } = check ?? record;
  return [
    ["station", record.station],
    ["taken", `${sayInstant(at, house.time_zone)} ${house.time_zone}`],
    ["by", performed_by ?? "-"],
    ...(check === null
      ? []
      : ([
          ["check", check.check_id],
          ["zero in use", `${sayForce(check.zero_shift_N, house, 2)} from the calibrated one`],
        ] as const)),
    ["due again", due === null ? "-" : sayInstant(due, house.time_zone).slice(0, 10)],
    ["note", note ?? "-"],
  ];
}

function recordFacts(record: CalibrationRecord, house: House): (readonly [string, string])[] {
  const relative = record.expanded_uncertainty_N / record.working_force_N;
  return [
    ["record", record.calibration_id],
    ["record of", `${sayInstant(record.at, house.time_zone)}, by ${record.performed_by ?? "-"}`],
    [
      "claims",
      `${sayForce(record.expanded_uncertainty_N, house, 2)} (${sayPercent(relative, 2)}, k = 2) at ` +
        sayForce(record.working_force_N, house, 0),
    ],
    ["board", record.board ?? "-"],
    ["amplifier", `${record.amplifier ?? "-"}, gain ${record.gain ?? "-"}`],
    ["cell", `${record.cell ?? "-"}, capacity ${sayForce(record.cell_capacity_N, house, 0)}`],
  ];
}

function calibrationBlocks(record: CalibrationRecord, house: House): Block[] {
  const points = record.points.map((point) => [
    point.force_N === 0 ? "nothing on" : loadName(point),
    sayForce(point.force_N, house, 2),
    point.loading === undefined ? "-" : point.loading === "increasing" ? "up" : "down",
    point.mean_counts.toFixed(1),
    point.standard_error_counts.toFixed(2),
    point.applied === undefined ? "-" : sayPercent(point.applied.relative_tolerance, 2),
  ]);
  const budget = record.budget.map(({ source, standard_uncertainty_N, constant }) => [
    source,
    sayForce(standard_uncertainty_N, house, 3),
    constant === true ? "the same at every force" : "in proportion to force",
  ]);
  return [
    heading("Scale"),
    {
      is: "facts",
      rows: [
        ["scale", sayField("counts_per_N", record.counts_per_N, house)],
        ["zero", `${record.zero_counts.toFixed(1)} counts`],
        ["friction", record.friction_N == null ? "not tried" : sayForce(record.friction_N, house, 2)],
      ],
    },
    {
      is: "table",
      head: ["point", "true force", "way", "counts", "std. error", "known to"],
      rows: points,
      right: [0, 1, 3, 4, 5],
    },
    heading(`Uncertainty at ${sayForce(record.working_force_N, house, 0)}, standard (k = 1)`),
    { is: "table", head: ["source", "uncertainty", ""], rows: budget, right: [1] },
  ];
}

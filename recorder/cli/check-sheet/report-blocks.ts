/** A report on checks as blocks: every run, every level, the return to zero, the class, the verdict. */
import type { Level } from "../../../calibration/check-report/levels.ts";
import type { CheckReport } from "../../../calibration/check-report/report.ts";
import { fromNewtons } from "../../../protocol/units.ts";
import { type House, sayForce } from "../quantities.ts";
import { type Block, sentence, strong } from "./blocks.ts";
import type { SheetPart } from "./sheet.ts";

/** Without its plot. */
export function reportBlocks(report: CheckReport, house: House): readonly Block[] {
  const { verdict, levels, lacking, zero_remark } = report;
  return [
    ...(levels.length === 0 ? [] : [runsTable(report, house), levelsTable(report, house)]),
    ...zeroBlocks(report, house),
    ...(zero_remark === null ? [] : [strong(zero_remark)]),
    sentence(resolutionText(report, house)),
    strong(report.class_text),
    ...(lacking.length === 0 || levels.length === 0
      ? []
      : [sentence("The standard's own procedure also asks for:"), { is: "list", items: lacking } as const]),
    ...(verdict === null ? [] : [strong(verdict.text)]),
  ];
}

/** As they belong on a page: what came of it beside the tables, and the plot, which is not to be cut, after it. */
export const partBlocks = (part: SheetPart, house: House): readonly Block[] => [
  ...reportBlocks(part.report, house),
  { is: "plot", part },
];

function runsTable({ levels }: CheckReport, house: House): Block {
  const rows = levels.flatMap((level) =>
    level.runs.map((run) => [
      loadName(level),
      sayForce(run.force_N, house, 2),
      run.loading === "increasing" ? "up" : "down",
      String(run.series),
      sayForce(run.indicated_force_N, house, 2),
      signed(fromNewtons(run.error_N, house.unit), 2, house.unit),
      percent(run.error),
    ]),
  );
  const head = ["load", "true force", "way", "series", "indicated", "error", "error"];
  return { is: "table", head, rows, right: [0, 1, 3, 4, 5, 6] };
}

function levelsTable({ levels, range_N, resolution }: CheckReport, house: House): Block {
  const rows = levels.map((level) => [
    sayForce(level.force_N, house),
    `${((100 * level.force_N) / range_N).toFixed(0)} %`,
    percent(level.mean_error),
    plain(level.repeatability),
    percent(level.reversibility),
    plain(resolution.resolution_N / level.force_N, 3),
    plain(level.relative_tolerance),
    sayForce(level.check_uncertainty_N, house, 2),
  ]);
  const head = ["level", "share", "mean error", "repeat.", "revers.", "resol.", "known to", "U of check"];
  return { is: "table", head, rows, right: [0, 1, 2, 3, 4, 5, 6, 7] };
}

function zeroBlocks({ zeros, zero_error }: CheckReport, house: House): Block[] {
  const read = (force_N: number | null): string =>
    force_N === null ? "not read" : signed(fromNewtons(force_N, house.unit), 2, house.unit);
  const lines = zeros.map(({ series, before_N, after_N, return_N }) => {
    const returned = return_N === null ? "" : `, return ${read(return_N)}`;
    return `With nothing on, series ${series}: before ${read(before_N)}, after ${read(after_N)}${returned}.`;
  });
  const worst =
    zero_error === null ? [] : [`Zero return ${(100 * zero_error).toFixed(3)} % of the highest force at worst.`];
  return [...lines, ...worst].map(sentence);
}

function resolutionText({ resolution }: CheckReport, house: House): string {
  const what =
    resolution.from === "noise"
      ? "half of the range the reading fluctuates over, as three standard deviations of it"
      : "one count";
  return `Resolution ${sayForce(resolution.resolution_N, house, 3)}: ${what}.`;
}

export const loadName = ({ mass_kg }: Pick<Level, "mass_kg">): string =>
  mass_kg === null ? "a force" : `${Number(mass_kg.toPrecision(6))} kg`;

const signed = (value: number, decimals: number, unit: string): string => {
  const size = Math.abs(value).toFixed(decimals);
  return `${Number(size) === 0 ? "" : value < 0 ? "-" : "+"}${size} ${unit}`;
};
const percent = (fraction: number | null): string => (fraction === null ? "-" : signed(100 * fraction, 2, "%"));
const plain = (fraction: number | null, decimals = 2): string =>
  fraction === null ? "-" : `${(100 * fraction).toFixed(decimals)} %`;

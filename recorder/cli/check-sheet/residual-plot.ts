/**
 * Errors against force as one SVG of two panels, in percent of the force and in the unit of the house. Behind the marks:
 * grey, what the record claims (k = 2); broken lines, the class limits of the error.
 */
import { CLASSES } from "../../../calibration/check-report/iso-7500-1.ts";
import { claimed_N } from "../../../calibration/check-report/verdict.ts";
import type { Check } from "../../../calibration/record.ts";
import { fromNewtons } from "../../../protocol/units.ts";
import { at, ticks } from "../../drawing/axis.ts";
import { escaped } from "../../drawing/escaped.ts";
import type { House } from "../quantities.ts";
import { mark } from "./marks.ts";
import type { SheetPart } from "./sheet.ts";

const WIDTH = 640;
const PANEL = { left: 64, right: 560, height: 210, gap: 56 } as const;
const STEPS = 60;
const APART = 4;

interface Panel {
  readonly id: string;
  readonly top: number;
  readonly label: string;
  /** An error at a force, in what the panel shows. */
  readonly value: (error_N: number, force_N: number) => number;
  readonly shown: readonly Check[];
}

export function residualPlot(part: SheetPart, house: House): string {
  const loaded = part.checks.filter(({ force_N }) => force_N > 0);
  const panels: readonly Panel[] = [
    {
      id: "percent",
      top: 24,
      label: "error, % of the force",
      value: (error_N, force_N) => (100 * error_N) / force_N,
      shown: loaded,
    },
    {
      id: "force",
      top: 24 + PANEL.height + PANEL.gap,
      label: `error, ${house.unit}`,
      value: (error_N) => fromNewtons(error_N, house.unit),
      shown: part.checks,
    },
  ];
  const height = 24 + 2 * (PANEL.height + PANEL.gap) + 24;
  const label = `Residual plot, ${part.report.when}: error against force in ${house.unit}; ${part.report.class_text}`;
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${height}" role="img" aria-label="${escaped(label)}" ` +
    `font-family="sans-serif" font-size="11">` +
    panels.map((panel) => panelSvg(panel, part, house)).join("") +
    legend(part, height - 12) +
    "</svg>"
  );
}

function panelSvg(panel: Panel, part: SheetPart, house: House): string {
  const { top, value } = panel;
  const most_N = 1.05 * Math.max(...part.checks.map(({ force_N }) => force_N), 0.1 * part.report.range_N);
  const reach = reachOf(panel, part, most_N);
  const x = (force_N: number): number => PANEL.left + ((PANEL.right - PANEL.left) * force_N) / most_N;
  const y = (shown: number): number => top + (PANEL.height * (reach - shown)) / (2 * reach);
  const bottom = top + PANEL.height;
  const clip = `${part.report.when}-${panel.id}`;
  const path = (error_N: (force_N: number) => number): string =>
    forces(most_N)
      .map((force_N) => `${at(x(force_N))},${at(clamped(y(value(error_N(force_N), force_N)), top))}`)
      .join(" ");
  const claim = (force_N: number): number => claimed_N(part.claim, force_N);
  const backwards = (points: string): string => points.split(" ").reverse().join(" ");
  const band = `<polygon points="${path(claim)} ${backwards(path((force_N) => -claim(force_N)))}" fill="#ddd"/>`;
  const limits = CLASSES.flatMap(({ name, error }, index) => {
    if (value(error * most_N, most_N) > reach) return [];
    const dash = ["2 3", "6 3", "10 3", "10 3 2 3"][index];
    const lines = [error, -error].map(
      (limit) =>
        `<polyline points="${path((force_N) => limit * force_N)}" fill="none" stroke="#555" stroke-dasharray="${dash}"/>`,
    );
    const text = `<text x="${PANEL.right + 4}" y="${at(y(value(error * most_N, most_N)) + 4)}">class ${name}</text>`;
    return [...lines, text];
  });
  const marks = panel.shown.map((check) => {
    const { force_N, indicated_force_N, loading, series } = check;
    // Side by side, or a load read alike on both ways would be a star.
    const beside = loading === "increasing" ? -APART : APART;
    return mark(x(force_N) + beside, y(value(indicated_force_N - force_N, force_N)), loading, series);
  });
  return (
    `<clipPath id="${clip}"><rect x="${PANEL.left}" y="${top}" width="${PANEL.right - PANEL.left}" height="${PANEL.height}"/></clipPath>` +
    `<g clip-path="url(#${clip})">${band}</g>${limits.join("")}` +
    `<line x1="${PANEL.left}" x2="${PANEL.right}" y1="${at(y(0))}" y2="${at(y(0))}" stroke="#000"/>` +
    `<rect x="${PANEL.left}" y="${top}" width="${PANEL.right - PANEL.left}" height="${PANEL.height}" fill="none" stroke="#000"/>` +
    ticks(-reach, reach, 6)
      .map((tick) => `<text x="${PANEL.left - 12}" y="${at(y(tick) + 4)}" text-anchor="end">${tick}</text>`)
      .join("") +
    ticks(0, fromNewtons(most_N, house.unit), 6)
      .map((tick) => {
        const across = at(PANEL.left + ((PANEL.right - PANEL.left) * tick) / fromNewtons(most_N, house.unit));
        return `<text x="${across}" y="${bottom + 14}" text-anchor="middle">${tick}</text>`;
      })
      .join("") +
    `<text x="${PANEL.left}" y="${top - 8}">${escaped(panel.label)}</text>` +
    `<text x="${PANEL.right}" y="${bottom + 28}" text-anchor="end">true force, ${escaped(house.unit)}</text>` +
    marks.join("")
  );
}

/** Symmetric: every mark, the claim at the highest load, and some room; a glance must not take a tenth of a percent for much. */
function reachOf({ value, shown }: Panel, part: SheetPart, most_N: number): number {
  const marks = shown.map((check) => Math.abs(value(check.indicated_force_N - check.force_N, check.force_N)));
  const least = Math.abs(value(0.006 * most_N, most_N));
  return 1.15 * Math.max(least, Math.abs(value(claimed_N(part.claim, most_N), most_N)), ...marks);
}

/** Closer together where a claim in percent grows steeply, and never at nothing. */
const forces = (most_N: number): number[] =>
  Array.from({ length: STEPS + 1 }, (_, index) => most_N * Math.max(1e-4, (index / STEPS) ** 2));

/** Just outside the panel at the most: a percentage of next to nothing has no bounds, a printer's numbers have. */
const clamped = (y: number, top: number): number => Math.min(Math.max(y, top - 4), top + PANEL.height + 4);

function legend({ checks }: SheetPart, y: number): string {
  const kinds = [1, 2, 3].flatMap((series) =>
    (["increasing", "decreasing"] as const)
      .filter((way) => checks.some((check) => check.series === series && check.loading === way))
      .map((way) => ({ series, way })),
  );
  const width = (WIDTH - 20) / Math.max(1, kinds.length);
  return kinds
    .map(({ series, way }, index) => {
      const x = 10 + index * width;
      const text = `${way === "increasing" ? "up" : "down"}, series ${series}`;
      return `${mark(x + 5, y - 4, way, series)}<text x="${at(x + 15)}" y="${y}">${text}</text>`;
    })
    .join("");
}

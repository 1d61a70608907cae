/**
 * One set as an SVG that needs nothing else: force against time, the floor as it rose, efforts numbered at their peaks, best
 * and final force, and the stop with its reason. Told apart by dash, weight and shape, so that grey paper will do.
 */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { fromNewtons } from "../../protocol/units.ts";
import { at, ticks } from "./axis.ts";
import { saySeconds } from "./quantities.ts";
import { type Point, reduced, stretches } from "./set-curve.ts";
import { floorSteps, levelLabels, type Step } from "./set-levels.ts";
import { effortMarks, finalMark, marksUsed, type SetScene } from "./set-marks.ts";
import type { SetCurve, SetPlotOptions } from "./set-plot-facts.ts";
import { setLine, setRemarks, setTitle, setTold, stopWords } from "./set-words.ts";
import { asSvg, fitted, framed, GREY, GRID, legend, line, stroked, text, WIDTH, widthOf } from "./svg.ts";

const LEFT = 64;
const RIGHT = 636;
const TALL = 256;
/** Where the panel begins, without and with a line of remarks above it. */
const TOP = 84;
const TOP_REMARKED = 100;
/** Of the time before the first onset so much is shown. */
const BEFORE_S = 1.5;
const TIME_TICKS = 8;
const FORCE_TICKS = 6;
const HEADROOM = 0.12;
/** px. */
const FINE = 0.4;

/**
 * An `<svg>` element, 800 wide, without an XML declaration, so that a page can hold it. Without a curve each effort stands
 * as a bar up to its peak.
 */
export function setPlot(message: SetMessage, curve: SetCurve | null, options: SetPlotOptions): string {
  const runs = curve === null ? [] : stretches(message, curve, -BEFORE_S);
  const steps = floorSteps(message, options.floor ?? null);
  const scene = sceneOf(message, runs, steps, options);
  const { bottom } = scene.panel;
  const remarks = setRemarks(message);
  const { svg: key, height } = legend(marksUsed(scene), bottom + 58);
  const drawing = framed(
    {
      height: bottom + 50 + height,
      title: setTitle(message),
      told: setTold(message, options),
      lines: [setLine(message, options)],
      remarks,
    },
    axes(scene) +
      bars(scene, curve) +
      curvePath(scene) +
      floorPath(scene, steps) +
      levelLabels(scene) +
      effortMarks(scene) +
      finalMark(scene) +
      stopMark(scene) +
      key,
  );
  return asSvg(drawing);
}

function sceneOf(
  message: SetMessage,
  runs: readonly (readonly Point[])[],
  steps: readonly Step[],
  options: SetPlotOptions,
): SetScene {
  const { efforts, duration_s, best_force_N, floor_force_N, options: resolved } = message;
  const first = runs[0]?.[0];
  const last = runs.at(-1)?.at(-1);
  const ends_s = efforts.map(({ start_s, duration_s: lasted_s }) => start_s + lasted_s);
  const from_s = Math.min(0, first?.s ?? 0);
  const to_s = Math.max(duration_s, last?.s ?? Math.max(0, ...ends_s), 0.1);
  const highest_N = runs.reduce((most, run) => run.reduce((so_far, { N }) => Math.max(so_far, N), most), 0);
  const lowest_N = runs.reduce((least, run) => run.reduce((so_far, { N }) => Math.min(so_far, N), least), 0);
  const peaks_N = efforts.map(({ peak_force_N }) => peak_force_N);
  const floors_N = steps.map(({ floor_N }) => floor_N);
  const reach_N = Math.max(highest_N, best_force_N ?? 0, floor_force_N ?? 0, ...peaks_N, ...floors_N);
  const top_N = (1 + HEADROOM) * Math.max(reach_N, 1.2 * resolved.onset_force_N);
  const low_N = lowest_N < 0 ? 1.05 * lowest_N : 0;
  const margin_s = 0.015 * (to_s - from_s);
  const begin_s = from_s - margin_s;
  const end_s = to_s + margin_s;
  const top = setRemarks(message).length > 0 ? TOP_REMARKED : TOP;
  const panel = { left: LEFT, right: RIGHT, top, bottom: top + TALL };
  return {
    panel,
    message,
    runs,
    options,
    time_s: [begin_s, end_s],
    force_N: [low_N, top_N],
    x: (s) => LEFT + ((RIGHT - LEFT) * (s - begin_s)) / (end_s - begin_s),
    y: (N) => panel.bottom - (TALL * (N - low_N)) / (top_N - low_N),
  };
}

function axes({ panel, x, y, time_s, force_N, options }: SetScene): string {
  const { left, right, top, bottom } = panel;
  const per_unit_N = 1 / fromNewtons(1, options.unit);
  const forces = ticks(force_N[0] / per_unit_N, force_N[1] / per_unit_N, FORCE_TICKS).map((tick) => {
    const level = y(tick * per_unit_N);
    return (
      line(left, level, right, level, { colour: tick === 0 ? "#000" : GRID }) +
      text(left - 6, level + 4, String(tick), { anchor: "end" })
    );
  });
  const times = ticks(time_s[0], time_s[1], TIME_TICKS).map(
    (tick) =>
      line(x(tick), bottom, x(tick), bottom + 5) + text(x(tick), bottom + 18, String(tick), { anchor: "middle" }),
  );
  return (
    forces.join("") +
    times.join("") +
    `<rect x="${left}" y="${top}" width="${right - left}" height="${bottom - top}" fill="none" stroke="#000"/>` +
    text(12, top - 8, `force, ${options.unit}`) +
    text((left + right) / 2, bottom + 34, "time since the first onset, s", { anchor: "middle" })
  );
}

function curvePath({ runs, x, y }: SetScene): string {
  const path = runs
    .map((run) => {
      const points = reduced(run, (s) => Math.floor(x(s)));
      // A stretch of one reading still shows.
      const tail = points.length === 1 ? "h0.5" : "";
      return `M${points.map(({ s, N }) => `${x(s).toFixed(1)} ${y(N).toFixed(1)}`).join("L")}${tail}`;
    })
    .join("");
  if (path === "") return "";
  return `<path class="force" d="${path}" fill="none" stroke="#333" stroke-width="1.2" stroke-linejoin="round"/>`;
}

function bars({ message, x, y }: SetScene, curve: SetCurve | null): string {
  if (curve !== null) return "";
  return message.efforts
    .map(({ start_s, duration_s, peak_force_N }) => {
      const width = Math.max(1, x(start_s + duration_s) - x(start_s));
      return `<rect x="${at(x(start_s))}" y="${at(y(peak_force_N))}" width="${at(width)}" height="${at(y(0) - y(peak_force_N))}" fill="#eee" stroke="#333"/>`;
    })
    .join("");
}

/** A hold's floor rises with every reading for a while; what is finer than the paper is left out, never the last. */
function floorPath({ x, y }: SetScene, all: readonly Step[]): string {
  const steps: Step[] = [];
  for (const step of all) {
    const before = steps.at(-1);
    const rise = before === undefined ? FINE : Math.abs(y(step.floor_N) - y(before.floor_N));
    const fine = rise < FINE && (rise === 0 || step !== all.at(-1));
    if (before === undefined || !fine || before.to_s !== step.from_s) steps.push(step);
    else steps[steps.length - 1] = { ...before, to_s: step.to_s };
  }
  const path = steps.map(({ from_s, to_s, floor_N }, index) => {
    const joins = index > 0 && steps[index - 1]?.to_s === from_s;
    return `${joins ? `V${at(y(floor_N))}` : `M${at(x(from_s))} ${at(y(floor_N))}`}H${at(x(to_s))}`;
  });
  if (path.length === 0) return "";
  return `<path d="${path.join("")}" fill="none"${stroked({ width: 2.2, dash: "9 4", of: "floor" })}/>`;
}

function stopMark({ panel, message, runs, x }: SetScene): string {
  const { duration_s } = message;
  const end_s = runs.at(-1)?.at(-1)?.s ?? duration_s;
  // What does not count any more: a last rest, or the second in which a hold was let go.
  const later =
    end_s - duration_s > 0.5
      ? line(x(end_s), panel.top, x(end_s), panel.bottom, { colour: GREY, dash: "2 2", of: "ended" })
      : "";
  const words =
    later === ""
      ? `stop at ${saySeconds(duration_s)}`
      : `counted to ${saySeconds(duration_s)}, ended at ${saySeconds(end_s)}`;
  const said = fitted(`${words}: ${stopWords(message)}`, WIDTH - 160);
  const across = x(duration_s);
  const half = widthOf(said) / 2;
  const middle = Math.min(Math.max(across, 130 + half), WIDTH - 12 - half);
  return (
    later +
    line(across, panel.top, across, panel.bottom, { width: 1.8, of: "stop" }) +
    text(middle, panel.top - 8, said, { anchor: "middle" })
  );
}

/** The marks in the drawing of a set, and the key to them. */
import type { Effort, SetMessage } from "../../protocol/messages/set.ts";
import { at } from "./axis.ts";
import { escaped } from "./escaped.ts";
import { sayForce, saySeconds } from "./quantities.ts";
import { highestWithin, type Point } from "./set-curve.ts";
import type { SetPlotOptions } from "./set-plot-facts.ts";
import { type Box, type LegendEntry, line, overlap, text, widthOf } from "./svg.ts";

export interface Panel {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

export interface SetScene {
  readonly panel: Panel;
  readonly message: SetMessage;
  readonly runs: readonly (readonly Point[])[];
  readonly options: SetPlotOptions;
  readonly time_s: readonly [number, number];
  readonly force_N: readonly [number, number];
  /** px. */
  readonly x: (s: number) => number;
  readonly y: (N: number) => number;
}

type Kind = "counted" | "below-floor" | "brief" | "touch" | "other-action";

function kindOf({ counted, below_floor, brief, muscle_action }: Effort, { decided_by }: SetMessage): Kind {
  if (!counted) return "touch";
  if (!decides(muscle_action, decided_by)) return "other-action";
  if (below_floor === true) return "below-floor";
  return brief ? "brief" : "counted";
}

/** Where one muscle action decides, efforts of another are neither judged nor compared. */
export const decides = (action: Effort["muscle_action"], decided_by: SetMessage["decided_by"]): boolean =>
  (decided_by !== "concentric" && decided_by !== "eccentric") || action === decided_by;

const KINDS: Readonly<Record<Kind, string>> = {
  counted: "effort, at its peak",
  brief: "brief effort, never a best",
  "below-floor": "effort below the floor",
  touch: "a touch, not counted",
  "other-action": "other muscle action",
};

function shape(kind: Kind, x: number, y: number): string {
  switch (kind) {
    case "counted":
      return `<circle cx="${at(x)}" cy="${at(y)}" r="3"/>`;
    case "brief":
      return `<circle cx="${at(x)}" cy="${at(y)}" r="3" fill="#fff" stroke="#000" stroke-width="1.3"/>`;
    case "below-floor":
      return `<polygon points="${at(x - 5)},${at(y - 4)} ${at(x + 5)},${at(y - 4)} ${at(x)},${at(y + 5)}"/>`;
    case "other-action":
      return `<path d="M${at(x - 5)} ${at(y)}h10" fill="none" stroke="#000" stroke-width="2.4"/>`;
    case "touch":
      return `<path d="M${at(x - 3.5)} ${at(y - 3.5)}l7 7m0 -7l-7 7" fill="none" stroke="#000" stroke-width="1.3"/>`;
  }
}

const diamond = (x: number, y: number, hollow: boolean): string =>
  `<path d="M${at(x)} ${at(y - 7)}l6 7l-6 7l-6 -7z" fill="${hollow ? "#fff" : "#000"}" stroke="#000" stroke-width="1.3"/>`;
const square = (x: number, y: number): string =>
  `<rect x="${at(x - 5)}" y="${at(y - 5)}" width="10" height="10" fill="none" stroke="#000" stroke-width="1.6"/>`;

const final = (x: number, y: number): string => `<g class="final">${square(x, y)}</g>`;

/** Where the peak of an effort lies: at the highest reading of it, and as high as it was judged. */
const peak_s = ({ runs }: SetScene, { start_s, duration_s }: Effort): number =>
  highestWithin(runs, start_s, start_s + duration_s)?.s ?? start_s + duration_s / 2;

interface Place {
  readonly effort: Effort;
  readonly x: number;
  readonly y: number;
}

/** A hold is one effort, and its best is its peak. */
export function effortMarks(scene: SetScene): string {
  const { message, x, y, options } = scene;
  const best = bestPlace(scene);
  const diamonds =
    best === null ? "" : `<g class="best">${diamond(best.x, best.y, message.quality.best_unconfirmed)}</g>`;
  if (message.style === "hold") return diamonds;
  const places = message.efforts.map((effort) => ({ effort, x: x(peak_s(scene, effort)), y: y(effort.peak_force_N) }));
  const marks = places.map(({ effort, x: across, y: level }) => {
    const { effort_number, peak_force_N, start_s } = effort;
    const said = `effort ${effort_number}, from ${saySeconds(start_s)}: ${sayForce(peak_force_N, options)}, ${KINDS[kindOf(effort, message)]}`;
    return `<g class="effort"><title>${escaped(said)}</title>${shape(kindOf(effort, message), across, level)}</g>`;
  });
  const numbered = places.filter(({ effort }) => kindOf(effort, message) !== "other-action");
  return marks.join("") + diamonds + numbers(numbered, best);
}

/** null: no best, or nobody knows when. */
function bestPlace(scene: SetScene): { readonly x: number; readonly y: number } | null {
  const { message, x, y, options } = scene;
  const { best_force_N, efforts, style } = message;
  if (best_force_N === null) return null;
  if (style === "hold") {
    const best_s = options.floor?.best_s ?? null;
    return best_s === null ? null : { x: x(best_s), y: y(best_force_N) };
  }
  // A best that was capped lies under that effort's peak.
  const [highest] = efforts
    .filter((effort) => kindOf(effort, message) === "counted")
    .sort((one, other) => other.peak_force_N - one.peak_force_N);
  return highest === undefined ? null : { x: x(peak_s(scene, highest)), y: y(best_force_N) };
}

/** The ends first, then every one that still has room, so that many efforts leave even steps and not a black band. */
function numbers(places: readonly Place[], best: { readonly x: number; readonly y: number } | null): string {
  const step = [1, 2, 5, 10, 20, 50, 100].find((each) => roomEvery(places, each)) ?? 200;
  const wanted = [places.at(-1), places[0], ...places.filter((_, index) => (index + 1) % step === 0)];
  const taken: Box[] = [];
  const said: string[] = [];
  for (const place of wanted) {
    if (place === undefined) continue;
    const number = String(place.effort.effort_number);
    const lifted = best !== null && Math.abs(best.x - place.x) < 12 && Math.abs(best.y - place.y) < 14;
    const level = (lifted ? Math.min(place.y, best.y - 3) : place.y) - 8;
    const breadth = widthOf(number) + 4;
    const box = { x: place.x - breadth / 2, y: level - 11, width: breadth, height: 14 };
    if (taken.some((other) => overlap(other, box))) continue;
    taken.push(box);
    said.push(text(place.x, level, number, { anchor: "middle" }));
  }
  return said.join("");
}

function roomEvery(places: readonly Place[], each: number): boolean {
  const shown = places.filter((_, index) => (index + 1) % each === 0);
  return shown.every((place, index) => {
    const before = shown[index - 1];
    return before === undefined || place.x - before.x >= widthOf(String(place.effort.effort_number)) + 4;
  });
}

/** Of efforts the last counted one's peak; of a hold what its last second held. */
export function finalMark(scene: SetScene): string {
  const { message, x, y } = scene;
  const { final_force_N, style, efforts, duration_s, stop_reason, options } = message;
  if (final_force_N === null) return "";
  if (style === "hold") {
    const window_s = stop_reason === "hold-below-floor" ? options.grace_s : 1;
    return final(x(Math.max(0, duration_s - window_s / 2)), y(final_force_N));
  }
  const last = efforts.findLast(({ counted }) => counted);
  return last === undefined ? "" : final(x(peak_s(scene, last)), y(final_force_N));
}

export function marksUsed({ message, runs, options }: SetScene): readonly LegendEntry[] {
  const { efforts, style, floor_force_N, best_force_N, final_force_N, quality } = message;
  const stroke = (width: number, dash?: string) => (x: number, y: number) =>
    line(x - 10, y, x + 10, y, dash === undefined ? { width, colour: "#333" } : { width, dash });
  const kinds = style === "hold" ? [] : [...new Set(efforts.map((effort) => kindOf(effort, message)))];
  const with_floor = floor_force_N !== null && (style !== "hold" || (options.floor ?? null) !== null);
  const with_best = best_force_N !== null && (style !== "hold" || (options.floor?.best_s ?? null) !== null);
  return [
    ...(runs.length > 0 ? [{ sample: stroke(1.2), text: "force" }] : []),
    ...(with_floor ? [{ sample: stroke(2.2, "9 4"), text: "floor" }] : []),
    ...(with_best
      ? [
          {
            sample: (x: number, y: number) => diamond(x, y, quality.best_unconfirmed),
            text: quality.best_unconfirmed ? "best, unconfirmed" : "best",
          },
        ]
      : []),
    ...(final_force_N === null ? [] : [{ sample: square, text: "final" }]),
    ...kinds.map((kind) => ({ sample: (x: number, y: number) => shape(kind, x, y), text: KINDS[kind] })),
  ];
}

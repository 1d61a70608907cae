/** The levels of a set's drawing: the floor as it rose, and the figures in the right margin. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import { sayForce } from "./quantities.ts";
import type { SetScene } from "./set-marks.ts";
import type { FloorSteps } from "./set-plot-facts.ts";
import { fitted, GREY, line, type Stroke, spread, text, WIDTH } from "./svg.ts";

export interface Step {
  readonly from_s: number;
  readonly to_s: number;
  readonly floor_N: number;
}

/**
 * Where it is known when it rose, so. Otherwise as each effort was judged by it, until the next began; of a hold, whose one
 * effort tells only the last floor, nothing: its end is a label.
 */
export function floorSteps(message: SetMessage, known: FloorSteps | null): readonly Step[] {
  const { efforts, style, duration_s, floor_force_N } = message;
  if (known !== null) {
    return known.steps.flatMap(({ elapsed_s, floor_force_N: floor_N }, index) => {
      const to_s = Math.min(duration_s, known.steps[index + 1]?.elapsed_s ?? duration_s);
      return floor_N === null || to_s <= elapsed_s ? [] : [{ from_s: Math.max(0, elapsed_s), to_s, floor_N }];
    });
  }
  if (style === "hold" || floor_force_N === null) return [];
  return efforts.flatMap(({ start_s, floor_force_N: floor_N }, index) => {
    const to_s = efforts[index + 1]?.start_s ?? Math.max(duration_s, start_s);
    return floor_N === null || to_s <= start_s ? [] : [{ from_s: start_s, to_s, floor_N }];
  });
}

interface Level {
  readonly name: string;
  readonly force_N: number;
  readonly stroke: Stroke | null;
  readonly from_s: number;
}

const APART = 15;

/** Figures beside the panel at their heights, moved apart where they would lie on each other. */
export function levelLabels(scene: SetScene): string {
  const { x, y, options } = scene;
  const { left, right, top, bottom } = scene.panel;
  const levels = levelsOf(scene);
  const heights = spread(
    levels.map(({ force_N }) => y(force_N)),
    APART,
    top + 6,
    bottom - 2,
  );
  return levels
    .map(({ name, force_N, stroke, from_s }, index) => {
      const level = y(force_N);
      const height = heights[index]!;
      const across = stroke === null ? "" : line(Math.max(left, x(from_s)), level, right, level, stroke);
      return `${across}${line(right, level, right + 10, height, { colour: GREY })}${text(right + 14, height + 4, fitted(`${name} ${sayForce(force_N, options)}`, WIDTH - right - 18))}`;
    })
    .join("");
}

function levelsOf({ message, time_s, options: { floor } }: SetScene): readonly Level[] {
  const { best_force_N, today_best_force_N, floor_force_N, final_force_N, options, resting_subtracted, style } =
    message;
  const base_N = resting_subtracted ? 0 : (message.resting_force_N ?? 0);
  const level = (name: string, force_N: number | null, stroke: Stroke | null, from_s = time_s[0]): Level[] =>
    force_N === null ? [] : [{ name, force_N, stroke, from_s }];
  const dots = (of: string, dash = "1 3"): Stroke => ({ colour: GREY, dash, of });
  const unknown = style === "hold" && (floor ?? null) === null;
  return [
    ...(options.best_from === "today" && today_best_force_N !== best_force_N
      ? level("best today", today_best_force_N, dots("today", "6 3 1 3"))
      : []),
    ...level("best", best_force_N, dots("best-level")),
    // Only a hold's end is known then, and a line from its beginning would say that it had always stood.
    ...level(unknown ? "last floor" : "floor", floor_force_N, null),
    ...level("final", final_force_N, null),
    ...level("ceiling", options.ceiling_force_N, dots("ceiling", "12 3")),
    ...level("onset", base_N + options.onset_force_N, dots("onset", "2 5")),
  ];
}

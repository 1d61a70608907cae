/** What the drawing of a set needs beside its message. */
import type { House } from "./quantities.ts";

/** Force of every reading, as the verb `set` answers it with `curve`. */
export interface SetCurve {
  /** From the first onset, s; rising, and negative while the set was armed. */
  readonly elapsed_s: readonly number[];
  /** N, the resting force not taken off; null: no valid reading there. */
  readonly force_N: readonly (number | null)[];
}

/** Where best and floor rose, as only the rules of a set can tell. */
export interface FloorSteps {
  /** In order of time; each holds until the next. */
  readonly steps: readonly { readonly elapsed_s: number; readonly floor_force_N: number | null }[];
  /** The middle of the second in which a hold was at its best, s; null: not a hold, or not known. */
  readonly best_s: number | null;
}

export interface SetPlotOptions extends House {
  /** null or absent: of efforts the floor is drawn as each was judged by it, of a hold only the last floor. */
  readonly floor?: FloorSteps | null;
}

/**
 * Hanging on: force between attempt level and floor without a peak. A trainee who can no longer repeat but does not let
 * go has still made an effort below the floor, after 1.5 x the median time between peaks, at least 3 s.
 */
import { type Book, decides } from "./book.ts";
import { attemptLevel_N } from "./levels.ts";
import type { Running } from "./segment.ts";
import { HANGING_SHORTEST_S, HANGING_SPACINGS } from "./setup.ts";
import type { Exerting } from "./state.ts";
import type { Trail } from "./trail.ts";

/** Follows the hanging; it stands still over a gap, and a peak or a new effort begins it anew. */
export function hang(
  was: Exerting,
  running: Running | null,
  book: Book,
  trail: Trail,
  gap_us: number,
): Exerting["hanging"] {
  const { floor_N } = book;
  const { force_N, at_us, impulse_N_s } = trail.newest;
  if (running === null || floor_N === null || force_N >= floor_N) return null;
  if (force_N < attemptLevel_N(was.levels, floor_N)) return null;
  if (!decides(book, was.setup, running.muscle_action)) return null;
  const another = was.running === null || was.running.start_us !== running.start_us;
  const peaked = running.peak.certain && was.running?.peak.certain === false;
  if (was.hanging === null || another || peaked) return { since_us: at_us, impulse_N_s };
  return gap_us === 0 ? was.hanging : { ...was.hanging, since_us: was.hanging.since_us + gap_us };
}

export function hangsTooLong({ hanging, trail, book }: Exerting): boolean {
  if (hanging === null) return false;
  const limit_s = Math.max(HANGING_SHORTEST_S, HANGING_SPACINGS * (book.median_spacing_s ?? 0));
  return trail.newest.at_us - hanging.since_us >= limit_s * 1e6;
}

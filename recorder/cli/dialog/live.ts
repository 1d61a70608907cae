/** The live value of one station, for whoever hangs a load there and looks. */
import { ask } from "../client.ts";
import { type House, sayForce } from "../quantities.ts";

export interface Live {
  /** By the record in force; null: there is none, or no reading. */
  readonly force_N: number | null;
  /** Only while a calibration is open. */
  readonly counts: number | null;
  /** null: the recorder does not say. */
  readonly still: boolean | null;
  /** The message's own time, ms; null: it does not say. */
  readonly at_ms: number | null;
}

export interface LiveFeed {
  /** Tells of every value from now on, until the answer is called. */
  readonly hear: (listener: (live: Live) => void) => () => void;
  readonly close: () => void;
}

/** Listens to the recorder. Where that ends, so do the values: what is asked for next says why. */
export function openFeed(path: string, station: string): LiveFeed {
  const listeners = new Set<(live: Live) => void>();
  const stop = new AbortController();
  void ask({
    path,
    verb: "watch",
    args: { station },
    signal: stop.signal,
    onEvent: (event) => {
      const { topic, message } = event as { topic?: unknown; message?: unknown };
      if (topic === "live") for (const listener of [...listeners]) listener(liveOf(message));
    },
  });
  return {
    hear: (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    close: () => stop.abort(),
  };
}

/** A message of another version perhaps, so nothing is sure to be there. */
function liveOf(message: unknown): Live {
  const { force_N, counts, still, at } = (message ?? {}) as Record<string, unknown>;
  const at_ms = typeof at === "string" ? Date.parse(at) : Number.NaN;
  return {
    force_N: typeof force_N === "number" ? force_N : null,
    counts: typeof counts === "number" ? counts : null,
    still: typeof still === "boolean" ? still : null,
    at_ms: Number.isNaN(at_ms) ? null : at_ms,
  };
}

/** `392.4 N (83112 counts), still`; before there is a scale, counts alone. */
export function sayLive({ force_N, counts, still }: Live, house: House): string {
  const force = force_N === null ? null : sayForce(force_N, house);
  const read = counts === null ? null : `${Math.round(counts)} counts`;
  const value = force === null ? (read ?? "no reading") : read === null ? force : `${force} (${read})`;
  return still === null ? value : `${value}, ${still ? "still" : "moving"}`;
}

/** What is left of a window of `takes_s`, by the messages' own time: `, 12 s left`; nothing where they do not say. */
export function countdown(takes_s: number): (live: Live) => string {
  let from_ms: number | null = null;
  return ({ at_ms }) => {
    from_ms ??= at_ms;
    // Who does not know the time cannot say how long it still takes.
    if (from_ms === null || at_ms === null) return "";
    return `, ${Math.max(0, Math.ceil(takes_s - (at_ms - from_ms) / 1000))} s left`;
  };
}

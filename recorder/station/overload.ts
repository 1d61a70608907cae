/**
 * Watches the raw force against the weakest part of the load path. Above the limit: warn. 110 %: overload. 125 %: latch
 * `inspect`, until a technician says it was inspected. The last two want two readings in succession, since one alone may
 * be a spike of the amplifier. Force in N, without its sign: a load path breaks either way.
 */
export interface Overload {
  readonly before_N: number;
  readonly above: "nothing" | "limit" | "overload" | "inspect";
}

export type OverloadEvent =
  | { readonly do: "warn"; readonly on: boolean; readonly force_N: number }
  | { readonly do: "overload"; readonly force_N: number }
  | { readonly do: "inspect"; readonly force_N: number };

export const UNLOADED: Overload = { before_N: 0, above: "nothing" };

const OVERLOAD_SHARE = 1.1;
const INSPECT_SHARE = 1.25;
/** Back under this share of the limit, an overload is over. */
const RELIEVED_SHARE = 0.95;
const RANK = { nothing: 0, limit: 1, overload: 2, inspect: 3 } as const;
const NOTHING: readonly OverloadEvent[] = [];

export function stepOverload(
  was: Overload,
  raw_N: number,
  force_limit_N: number,
): { readonly state: Overload; readonly events: readonly OverloadEvent[] } {
  const force_N = Math.abs(raw_N);
  const both_N = Math.min(force_N, was.before_N);
  if (was.above === "nothing" && both_N <= force_limit_N) {
    return { state: { before_N: force_N, above: "nothing" }, events: NOTHING };
  }
  const level = levelOf(both_N / force_limit_N);
  if (RANK[level] > RANK[was.above]) {
    return { state: { before_N: force_N, above: level }, events: eventsAt(level, both_N) };
  }
  const relieved = Math.max(force_N, was.before_N) < RELIEVED_SHARE * force_limit_N;
  if (!relieved) return { state: { before_N: force_N, above: was.above }, events: NOTHING };
  return { state: { before_N: force_N, above: "nothing" }, events: [{ do: "warn", on: false, force_N }] };
}

/** The amplifier came to its end under load: an overload nobody could measure, over when the force is down again. */
export const overloaded = (was: Overload): Overload =>
  RANK[was.above] >= RANK.overload ? was : { ...was, above: "overload" };

function eventsAt(level: Overload["above"], force_N: number): readonly OverloadEvent[] {
  switch (level) {
    case "nothing":
      return NOTHING;
    case "limit":
      return [{ do: "warn", on: true, force_N }];
    case "overload":
      return [{ do: "overload", force_N }];
    case "inspect":
      // What jumps past both at once is an overload too.
      return [
        { do: "overload", force_N },
        { do: "inspect", force_N },
      ];
  }
}

function levelOf(share: number): Overload["above"] {
  if (share > INSPECT_SHARE) return "inspect";
  if (share > OVERLOAD_SHARE) return "overload";
  return share > 1 ? "limit" : "nothing";
}

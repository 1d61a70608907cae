/** The set somebody means by the beginning of its id. */
import { z } from "zod";
import { DID_NOT_HOLD, type Failure, wrongUsage } from "../command.ts";
import { askForNewest } from "../set-pages.ts";

const WHOLE = 36;
const SHORTEST = 8;
const TIME_DIGITS = 12;
/** A set begins at its first onset, at most so long after it was armed and got its id. */
const ARMED_MS = 200_000;
/** Where clocks were set right in between, ids and times differ by as much; more than this is not looked for. */
const CLOCK_MS = 5_000;
const LATEST_MS = Date.parse("9999-12-31T00:00:00Z");
/** As many as one gym can begin in that time, and more. */
const AT_MOST = 1000;

const pageSchema = z.looseObject({ sets: z.array(z.looseObject({ set_id: z.string() })) });

export type Found = { readonly ok: true; readonly set_id: string } | { readonly ok: false; readonly failure: Failure };

/**
 * An id begins with the moment it was made (RFC 9562, version 7), so eight characters name a minute in which to look.
 * What is as long as an id is left to the request to judge.
 */
export async function findSet(typed: string, socket: string): Promise<Found> {
  const digits = typed.toLowerCase().replaceAll("-", "");
  if (typed.length >= WHOLE) return { ok: true, set_id: typed };
  if (digits.length < SHORTEST || !/^[0-9a-f]+$/.test(digits)) {
    return { ok: false, failure: wrongUsage("SET_ID takes a set's id, or its first eight characters or more") };
  }
  const time = digits.slice(0, TIME_DIGITS);
  const first_ms = Number.parseInt(time.padEnd(TIME_DIGITS, "0"), 16) - CLOCK_MS;
  const last_ms = Number.parseInt(time.padEnd(TIME_DIGITS, "f"), 16) + ARMED_MS;
  if (last_ms > LATEST_MS) return { ok: false, failure: none(typed) };
  const args = { from: instant(first_ms), to: instant(last_ms), limit: AT_MOST };
  const reply = await askForNewest({ path: socket, verb: "sets", args });
  if (!reply.ok) return reply;
  const sets = pageSchema.safeParse(reply.result).data?.sets ?? [];
  const fitting = [...new Set(sets.map(({ set_id }) => set_id))].filter((id) =>
    id.replaceAll("-", "").startsWith(digits),
  );
  const [only, ...more] = fitting;
  if (only === undefined) return { ok: false, failure: none(typed) };
  if (more.length > 0) {
    return {
      ok: false,
      failure: wrongUsage(
        `${typed} is the beginning of ${fitting.length} sets, so give more of it: ${fitting.join(", ")}`,
      ),
    };
  }
  return { ok: true, set_id: only };
}

const instant = (at_ms: number): string => new Date(Math.max(0, at_ms)).toISOString();

const none = (typed: string): Failure => ({
  exit: DID_NOT_HOLD,
  message: `no set whose id begins with ${typed} was found: \`tidemark sets\` lists whole ids`,
});

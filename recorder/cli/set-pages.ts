/** Asks for sets until there are as many as were asked for: one answer holds no more than the recorder gives at once. */
import { z } from "zod";
import { ask, type Question, type Reply } from "./client.ts";
import { DID_NOT_HOLD, type Failure } from "./command.ts";

interface Numbered {
  readonly set_id: string;
  readonly set_seq: number;
}

/** Looks and takes nothing apart: what is said as JSON is what the recorder said. */
const pageSchema = z.object({
  /** Absent: a recorder that does not tell yet. */
  more: z.boolean().optional(),
  sets: z.array(z.custom<Numbered>((set) => Number.isInteger((set as Partial<Numbered> | null)?.set_seq))),
  erased: z.array(z.object({ set_seq: z.int() })).optional(),
});

/** What the verb takes at once. */
export const PAGE_SETS = 1000;

/** The newest ones, at most `args.limit`, as one page would give them. `args` holds no `from_set_seq`. */
export async function askForNewest(question: Question): Promise<Reply> {
  const { limit } = question.args as { readonly limit: number };
  const reply = await ask({ ...question, args: { ...question.args, limit: Math.min(limit, PAGE_SETS) } });
  const page = reply.ok ? pageSchema.safeParse(reply.result).data : undefined;
  const first = page?.sets[0];
  if (!reply.ok || page?.more !== true || first === undefined) return reply;
  const missing = limit - page.sets.length;
  if (missing <= 0) return reply;
  const args = { ...question.args, limit: missing, before_set_seq: first.set_seq };
  const earlier = await askForNewest({ ...question, args });
  if (!earlier.ok) return earlier;
  const { more, sets } = pageSchema.parse(earlier.result);
  return { ok: true, result: { ...(reply.result as object), more, sets: [...sets, ...page.sets] } };
}

/** One page of sets, as the recorder gave them, and what to do with it; a failure ends the walk. */
export type TakePage = (sets: readonly unknown[]) => Promise<Failure | null>;

/**
 * Every set that fits, oldest number first, each once and a page at a time, so that a record of any length can be gone
 * through; with a `limit` only the newest so many. A set that is amended meanwhile keeps the revision it was met in. What is
 * remembered of those gone by is their ids. `args` holds no numbers. null: to the end.
 */
export async function walkSets(question: Question, limit: number | null, take: TakePage): Promise<Failure | null> {
  const start = limit === null ? { from: 0 } : await numberOfNewest(question, limit);
  if ("exit" in start) return start;
  const met = new Set<string>();
  for (let from_set_seq = start.from; ; ) {
    const reply = await ask({ ...question, args: { ...question.args, limit: PAGE_SETS, from_set_seq } });
    if (!reply.ok) return reply.failure;
    const page = pageSchema.safeParse(reply.result).data;
    if (page === undefined) return OTHER_VERSION;
    const fresh = page.sets.filter(({ set_id }) => !met.has(set_id));
    for (const { set_id } of fresh) met.add(set_id);
    const room = limit === null ? fresh.length : Math.max(0, limit - (met.size - fresh.length));
    const failure = await take(fresh.slice(0, room));
    if (failure !== null) return failure;
    const last = Math.max(-1, ...[...page.sets, ...(page.erased ?? [])].map(({ set_seq }) => set_seq));
    if (page.more !== true || last < from_set_seq) return null;
    from_set_seq = last + 1;
  }
}

/** The number from which on there are so many; 0 where there are not. */
async function numberOfNewest(question: Question, limit: number): Promise<{ readonly from: number } | Failure> {
  let missing = limit;
  let before = {};
  for (;;) {
    const args = { ...question.args, ...before, limit: Math.min(missing, PAGE_SETS) };
    const reply = await ask({ ...question, args });
    if (!reply.ok) return reply.failure;
    const page = pageSchema.safeParse(reply.result).data;
    if (page === undefined) return OTHER_VERSION;
    const first = page.sets[0];
    missing -= page.sets.length;
    if (first === undefined || page.more !== true) return { from: first === undefined ? 0 : first.set_seq };
    if (missing <= 0) return { from: first.set_seq };
    before = { before_set_seq: first.set_seq };
  }
}

export const OTHER_VERSION: Failure = {
  exit: DID_NOT_HOLD,
  message: "the recorder is of another version than this command: use the one beside it",
};

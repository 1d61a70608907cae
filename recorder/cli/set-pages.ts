/** Asks for sets until there are as many as were asked for: one answer holds no more than the recorder gives at once. */
import { z } from "zod";
import { ask, type Question, type Reply } from "./client.ts";

interface Numbered {
  readonly set_seq: number;
}

/** Looks and takes nothing apart: what is said as JSON is what the recorder said. */
const pageSchema = z.object({
  /** Absent: a recorder that does not tell yet. */
  more: z.boolean().optional(),
  sets: z.array(z.custom<Numbered>((set) => Number.isInteger((set as Partial<Numbered> | null)?.set_seq))),
});

/** The newest ones, at most `args.limit`, as one page would give them. `args` holds no `from_set_seq`. */
export async function askForNewest(question: Question): Promise<Reply> {
  const reply = await ask(question);
  const page = reply.ok ? pageSchema.safeParse(reply.result).data : undefined;
  const first = page?.sets[0];
  if (!reply.ok || page?.more !== true || first === undefined) return reply;
  const { limit } = question.args as { readonly limit: number };
  const missing = limit - page.sets.length;
  if (missing <= 0) return reply;
  const args = { ...question.args, limit: missing, before_set_seq: first.set_seq };
  const earlier = await askForNewest({ ...question, args });
  if (!earlier.ok) return earlier;
  const { more, sets } = pageSchema.parse(earlier.result);
  return { ok: true, result: { ...(reply.result as object), more, sets: [...sets, ...page.sets] } };
}

/**
 * A set's input log as this version reads it. The store may hold logs of another version, which armed and told the
 * engine things this one does not know; what cannot be read is said in a sentence and never guessed at.
 */
import { z } from "zod";
import { ENDED_BECAUSE, MUSCLE_ACTIONS } from "../../protocol/vocabulary.ts";
import type { InputLog } from "../ports.ts";
import { type ArmFacts, armFactsSchema } from "../station/arm-facts.ts";
import type { LogEvent } from "../station/set-log.ts";

const at_us = z.number();

const logEventSchema = z.discriminatedUnion("kind", [
  z.object({ kind: z.literal("end"), at_us, because: z.enum(ENDED_BECAUSE).nullable() }),
  z.object({ kind: z.literal("resting"), at_us }),
  z.object({ kind: z.literal("fault"), at_us, fault: z.enum(["overload", "sensor-fault"]) }),
  z.object({ kind: z.literal("silence"), at_us }),
  z.object({ kind: z.literal("interrupted"), at_us }),
  z.object({ kind: z.literal("action"), muscle_action: z.enum(MUSCLE_ACTIONS).nullable() }),
  z.object({ kind: z.literal("lost"), lines: z.int() }),
  z.object({ kind: z.literal("rejected"), lines: z.int() }),
]) satisfies z.ZodType<LogEvent>;

const placedSchema = z.array(z.object({ before: z.int(), event: logEventSchema }));

export type ReadLog =
  | { readonly ok: true; readonly facts: ArmFacts; readonly log: InputLog }
  /** Part of a sentence. */
  | { readonly ok: false; readonly why: string };

export function readLog(log: InputLog): ReadLog {
  const facts = armFactsSchema.safeParse(log.arm);
  if (!facts.success) return { ok: false, why: "its input log has no beginning that this version can read" };
  const events = placedSchema.safeParse(log.events);
  if (!events.success) return { ok: false, why: "its input log holds an event that this version cannot read" };
  return { ok: true, facts: facts.data, log: { ...log, events: events.data } };
}

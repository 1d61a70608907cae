/**
 * The verbs of control: one strict schema each, the same for every door. What we read is strict: an unknown field is
 * a `bad-request`. Forces N, times s, fractions 0..1, masses kg, angles degrees.
 */
import type { z } from "zod";
import { READ_VERBS } from "./read-verbs.ts";
import { SERVICE_VERBS } from "./service-verbs.ts";
import { TRAIN_VERBS } from "./train-verbs.ts";

export { type BeginOptions, beginOptions, type VerbGroup, type VerbRule } from "./verb-parts.ts";

export const VERBS = { ...READ_VERBS, ...TRAIN_VERBS, ...SERVICE_VERBS } as const;

export type Verb = keyof typeof VERBS;
/** The checked arguments of one verb. */
export type ArgsOf<V extends Verb> = z.infer<(typeof VERBS)[V]["args"]>;
export type BeginArgs = ArgsOf<"begin">;

export const isVerb = (name: unknown): name is Verb => typeof name === "string" && Object.hasOwn(VERBS, name);

/** The verbs that act on a station; the others act on the record. */
export type StationVerb = {
  [V in Exclude<Verb, OfRecord>]: (typeof VERBS)[V]["group"] extends "read"
    ? never
    : ArgsOf<V> extends { station: string }
      ? V
      : never;
}[Exclude<Verb, OfRecord>];
/** Names a station, and changes only what is kept of it. */
type OfRecord = "plan-save";
/** A checked request to a station. */
export type StationRequest = { [V in StationVerb]: { readonly verb: V; readonly args: ArgsOf<V> } }[StationVerb];

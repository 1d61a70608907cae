/** What comes back through a door: one response a request, and, for long ones, events before it. */
import type { Refusal } from "../vocabulary.ts";

export type Outcome = { readonly ok: true; readonly result: unknown } | { readonly ok: false; readonly error: Refusal };

/** `request_id` is null where the request gave none that could be read. */
export type Response = { readonly request_id: string | null } & Outcome;

export interface RequestEvent {
  readonly request_id: string;
  readonly event: unknown;
}

export const done = (result: unknown): Outcome => ({ ok: true, result });

export const refused = (code: Refusal["code"], message: string, hint?: string): Outcome => ({
  ok: false,
  error: hint === undefined ? { code, message } : { code, message, hint },
});

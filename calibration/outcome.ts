/** What a request comes to, as data for whoever asked. */
import type { ErrorCode, Refusal } from "../protocol/vocabulary.ts";

export type Refused = { readonly ok: false; readonly error: Refusal };
export type Outcome<T = unknown> = { readonly ok: true; readonly result: T } | Refused;

export function refusal(code: ErrorCode, message: string, hint?: string): Refused {
  return { ok: false, error: hint === undefined ? { code, message } : { code, message, hint } };
}

/** A number for a sentence: three significant digits, plainly written. */
export function shown(value: number): string {
  return Number(value.toPrecision(3)).toString();
}

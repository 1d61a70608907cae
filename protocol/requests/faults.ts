/** What is wrong with something we read, as a key path and words that follow it: `station[1].rate` `must be 10 or 80`. */
import { z } from "zod";
import { closest } from "./closest.ts";

export interface Fault {
  /** Key path from the root; empty: the whole of it. */
  readonly path: string;
  /** Follows the path in a sentence, without a full stop. */
  readonly message: string;
}

export type Checked<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly faults: readonly Fault[] };

/** A value checked against a schema, with every fault at once. */
export function check<S extends z.ZodType>(schema: S, value: unknown): Checked<z.infer<S>> {
  const parsed = schema.safeParse(value, { reportInput: true });
  if (parsed.success) return { ok: true, value: parsed.data };
  return { ok: false, faults: parsed.error.issues.flatMap((issue) => faultsOf(issue, schema)) };
}

/** `path message`, as one piece of a sentence. */
export const sayFault = (fault: Fault): string =>
  fault.path === "" ? fault.message : `${fault.path} ${fault.message}`;

export function pathText(path: readonly PropertyKey[]): string {
  return path.reduce<string>((text, key) => {
    if (typeof key === "number") return `${text}[${key}]`;
    return text === "" ? String(key) : `${text}.${String(key)}`;
  }, "");
}

/** Looking for the meant name costs time, which a stranger with ten thousand keys must not spend for us. */
const UNKNOWN_KEYS_SAID = 50;

function faultsOf(issue: z.core.$ZodIssue, schema: z.ZodType): Fault[] {
  if (issue.code !== "unrecognized_keys") return [{ path: pathText(issue.path), message: words(issue) }];
  const known = keysAt(schema, issue.path);
  return issue.keys.slice(0, UNKNOWN_KEYS_SAID).map((key) => {
    const near = closest(key, known);
    const hint = near === null ? "" : `, did you mean ${near}?`;
    return { path: pathText([...issue.path, key]), message: `is not a known key${hint}` };
  });
}

function words(issue: z.core.$ZodIssue): string {
  switch (issue.code) {
    case "invalid_type":
      return issue.input === undefined ? "is missing" : `must be ${KINDS[issue.expected] ?? issue.expected}`;
    case "invalid_value":
      return issue.input === undefined ? "is missing" : `must be ${either(issue.values.map(String))}`;
    case "too_small":
      if (issue.origin === "string" && issue.minimum === 1) return "must not be empty";
      return bound(issue, `${issue.inclusive === false ? "more than" : "at least"} ${issue.minimum}`);
    case "too_big":
      return bound(issue, `${issue.inclusive === false ? "less than" : "at most"} ${issue.maximum}`);
    case "invalid_format":
      if (issue.format === "uuid") return "must be a UUID";
      if (issue.format === "datetime") return "must be a time such as 2026-11-24T18:00:00Z";
      return issue.message.startsWith("Invalid") ? `must match ${issue.pattern}` : issue.message;
    default:
      return issue.message;
  }
}

const KINDS: Readonly<Record<string, string>> = {
  string: "text",
  number: "a number",
  int: "a whole number",
  boolean: "true or false",
  array: "a list",
  object: "a table of keys",
};
/** What a bound of a text or a list counts. */
const COUNTED: Readonly<Record<string, string>> = { string: "characters", array: "entries" };

function bound({ origin, message }: { readonly origin: string; readonly message: string }, limit: string): string {
  // The library's own words begin so; anything else was said by the schema on purpose.
  if (!message.startsWith("Too ")) return message;
  const counted = COUNTED[origin];
  return counted === undefined ? `must be ${limit}` : `must have ${limit} ${counted}`;
}

function either(values: readonly string[]): string {
  const before = values.slice(0, -1).join(", ");
  return before === "" ? values.join() : `${before} or ${values.at(-1)}`;
}

/** The keys that may stand at a path. Where the schema cannot be followed there is no hint, never an error. */
function keysAt(schema: z.ZodType, path: readonly PropertyKey[]): string[] {
  const at = path.reduce<unknown>((outer, key) => {
    const inner = unwrapped(outer);
    if (inner instanceof z.ZodArray) return inner.element;
    return inner instanceof z.ZodObject ? inner.shape[String(key)] : undefined;
  }, schema);
  const inner = unwrapped(at);
  return inner instanceof z.ZodObject ? Object.keys(inner.shape) : [];
}

function unwrapped(schema: unknown): unknown {
  const wrapped = schema instanceof z.ZodOptional || schema instanceof z.ZodDefault || schema instanceof z.ZodPrefault;
  return wrapped ? unwrapped(schema.unwrap()) : schema;
}

/**
 * Validates payloads against the checked-in JSON Schemas with ajv, which shares no code with what made them. For every
 * test that sees a message.
 */
import { readFileSync } from "node:fs";
import { Ajv2020, type ValidateFunction } from "ajv/dist/2020.js";

/** Message files of each topic; a payload is valid against one and only one of them. */
const FILES = {
  live: ["live"],
  state: ["state"],
  effort: ["effort"],
  set: ["set", "erased-set"],
  "latest-set": ["set"],
  sensor: ["sensor"],
  presence: ["presence"],
  response: ["response"],
} as const;

/** With the answers to requests. */
export type CarriedName = keyof typeof FILES;
export type MessageName = Exclude<CarriedName, "response">;

// RFC 3339 date-time and RFC 9562 UUID, written here so that the schemas' own patterns are not their only witness.
const FORMATS = {
  "date-time": /^\d{4}-[01]\d-[0-3]\dT[0-2]\d:[0-5]\d:[0-6]\d(\.\d+)?(Z|[+-][0-2]\d:[0-5]\d)$/,
  uuid: /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i,
};

const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true, strictTypes: "log", formats: FORMATS });
const validators = new Map<string, ValidateFunction>();

function validator(file: string): ValidateFunction {
  let validate = validators.get(file);
  if (validate === undefined) {
    const url = new URL(`../../../protocol/schemas/${file}.json`, import.meta.url);
    validate = ajv.compile(JSON.parse(readFileSync(url, "utf8")));
    validators.set(file, validate);
  }
  return validate;
}

/** What is wrong with a payload (an object, or the JSON text as it travelled); nothing: it is good. */
export function validateMessage(name: CarriedName, payload: unknown): string[] {
  const value: unknown = typeof payload === "string" ? JSON.parse(payload) : payload;
  const results = FILES[name].map((file) => {
    const validate = validator(file);
    return { file, valid: validate(value), errors: validate.errors ?? [] };
  });
  const fitting = results.filter(({ valid }) => valid);
  if (fitting.length === 1) return [];
  if (fitting.length > 1)
    return [`fits ${fitting.map(({ file }) => file).join(" and ")}, which must exclude each other`];
  const closest = results.reduce((a, b) => (b.errors.length < a.errors.length ? b : a));
  return closest.errors.map(({ instancePath, message }) => `${instancePath || "/"} ${message}`);
}

/** The same for a request of `verb`. */
export function validateRequest(verb: string, payload: unknown): string[] {
  const validate = validator(`request-${verb}`);
  if (validate(payload)) return [];
  return (validate.errors ?? []).map(({ instancePath, message }) => `${instancePath || "/"} ${message}`);
}

/** The message a topic carries: by its last level, or that it is an answer. */
export function messageOfTopic(topic: string): CarriedName | null {
  if (/\/response\/[^/]+\/[^/]+$/.test(topic)) return "response";
  const last = topic.slice(topic.lastIndexOf("/") + 1);
  return last in FILES ? (last as CarriedName) : null;
}

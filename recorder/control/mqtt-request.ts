/**
 * One message on a request topic: what is asked, or what is wrong with it. Pure. Rights at a broker are given by topic,
 * so the topic is the truth about group, verb and station, and a payload that says otherwise is refused.
 */
import { uuid } from "../../protocol/messages/parts.ts";
import type { RequestTopic } from "../../protocol/messages/topics.ts";
import { check, sayFault } from "../../protocol/requests/faults.ts";
import {
  askedAtField,
  askerName,
  envelopeSchema,
  ownersOf,
  REQUEST_BYTES,
  stationField,
} from "../../protocol/requests/over-mqtt.ts";
import { type Outcome, refused } from "../../protocol/requests/response.ts";
import { isVerb, VERBS, type Verb } from "../../protocol/requests/verbs.ts";
import { readObject, type Unreadable } from "./json-object.ts";

export interface AskedByMqtt {
  readonly request_id: string;
  readonly asker: string;
  /** The verb's own fields, with the topic's station; its schema has not seen them yet. */
  readonly args: object;
  /** When it was asked, ms since 1970, by a clock that was set; null: not known. */
  readonly asked_at_ms: number | null;
}

/** Why nobody gets an answer: it cannot be read who would. */
export type Unanswerable = Unreadable | "too-long" | "no-request-id" | "no-asker";

export type ReadMqttRequest =
  | { readonly is: "asked"; readonly asked: AskedByMqtt }
  | { readonly is: "refused"; readonly request_id: string; readonly asker: string; readonly outcome: Outcome }
  | { readonly is: "unreadable"; readonly why: Unanswerable };

export function readMqttRequest(topic: RequestTopic, payload: Buffer): ReadMqttRequest {
  if (payload.length > REQUEST_BYTES) return tooLong(payload);
  const read = readObject(payload);
  if (!read.ok) return { is: "unreadable", why: read.why };
  const { request_id, asker, schema_version, clock_synced, ...args } = read.value;
  if (!uuid.safeParse(request_id).success) return { is: "unreadable", why: "no-request-id" };
  if (!askerName.safeParse(asker).success) return { is: "unreadable", why: "no-asker" };
  const who = { request_id: request_id as string, asker: asker as string };
  if (!isVerb(topic.verb)) return { is: "asked", asked: { ...who, args, asked_at_ms: null } };

  const misplaced = misplacedAt(topic, topic.verb);
  if (misplaced !== null) return { is: "refused", ...who, outcome: misplaced };
  const envelope = check(envelopeSchema(topic.verb), read.value);
  if (!envelope.ok) {
    const said = envelope.faults.map(sayFault).join("; ").slice(0, LONGEST_SAID);
    return { is: "refused", ...who, outcome: refused("bad-request", `${topic.verb}: ${said}.`) };
  }
  const named = askedAtField(topic.verb);
  const { [named]: at, ...own } = args;
  const placed = atItsStation(topic, topic.verb, own);
  if ("ok" in placed) return { is: "refused", ...who, outcome: placed };
  const asked_at_ms = clock_synced === true && typeof at === "string" ? Date.parse(at) : null;
  return { is: "asked", asked: { ...who, args: placed.args, asked_at_ms } };
}

/** null: the verb is of the topic's group and may be asked there. What never comes so is for the dispatcher to say. */
function misplacedAt({ owner, group }: RequestTopic, verb: Verb): Outcome | null {
  const own = VERBS[verb].group;
  if (group !== own) return refused("bad-request", `${verb} is a ${own} verb.`, `Ask at .../request/${own}/${verb}.`);
  const owners = ownersOf(verb);
  if (owners.length === 0 || owners.includes(owner)) return null;
  const [whose] = owners;
  const hint = `Ask at .../${whose}/{${whose}}/request/${own}/${verb}.`;
  const message = whose === "station" ? `${verb} is asked at the topic of its station` : `${verb} is of no one station`;
  return refused("bad-request", `${message}.`, hint);
}

/** The arguments with the topic's station, or that they name another. */
function atItsStation({ owner, id }: RequestTopic, verb: Verb, args: object): { readonly args: object } | Outcome {
  if (owner !== "station" || stationField(verb) === "none") return { args };
  const { station } = args as { readonly station?: unknown };
  if (station === undefined || station === id) return { args: { ...args, station: id } };
  return refused("bad-request", `The topic is ${id}'s, and the field station is another's.`, "Leave station out.");
}

const LONGEST_SAID = 400;

/** How far into a payload that is not read one looks for who sent it, in bytes: names come first where people write them. */
const HEAD_BYTES = 1024;
const ID_IN_HEAD = /"request_id"\s*:\s*"([0-9A-Fa-f-]{36})"/;
const ASKER_IN_HEAD = /"asker"\s*:\s*"([A-Za-z0-9._@-]{1,40})"/;

function tooLong(payload: Buffer): ReadMqttRequest {
  const head = payload.toString("latin1", 0, HEAD_BYTES);
  const [request_id, asker] = [ID_IN_HEAD.exec(head)?.[1], ASKER_IN_HEAD.exec(head)?.[1]];
  if (asker === undefined || !uuid.safeParse(request_id).success) return { is: "unreadable", why: "too-long" };
  const outcome = refused("bad-request", `The request is over ${REQUEST_BYTES} bytes.`, "Ask with less.");
  return { is: "refused", request_id: request_id as string, asker, outcome };
}

/** An acting request may be as old as this, and its asker's clock as far ahead, ms. */
const STALE_MS = 10_000;

/** Whether an acting request comes too late to be carried out; null: no, or nobody can tell. `now_ms` null: our clock is not set. */
export function expiry({ asked_at_ms }: AskedByMqtt, now_ms: number | null): Outcome | null {
  if (asked_at_ms === null || now_ms === null) return null;
  const age_ms = now_ms - asked_at_ms;
  if (age_ms > STALE_MS) {
    const message = `This was asked ${(age_ms / 1000).toFixed(0)} s ago, and nobody expects it to happen now.`;
    return refused("expired", message, "Ask again, under a new request_id.");
  }
  if (age_ms >= -STALE_MS) return null;
  const message = `This was asked ${(-age_ms / 1000).toFixed(0)} s from now by our clock: one of the two clocks is wrong.`;
  return refused("expired", message, "Set the asker's clock and the recorder's from the same source.");
}

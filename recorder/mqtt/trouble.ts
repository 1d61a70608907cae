/**
 * What went wrong between us and the broker, as one sentence that says what would do, and the alarm it raises.
 *
 * Pure. Codes: MQTT 5.0 section 2.4 (reason codes) and MQTT 3.1.1 section 3.2.2.3 (CONNACK return codes); both number
 * spaces fit in one because 3.1.1 ends at 5 and no 5.0 failure is below 0x80.
 */
import type { AlarmCode } from "../../protocol/vocabulary.ts";
import type { Moment } from "./envelope.ts";

export interface Trouble {
  readonly sentence: string;
  readonly alarm: AlarmCode | null;
}

/** How a connection ended. */
export interface Ending {
  /** The broker's code, from its CONNACK or its DISCONNECT; null: it gave none. */
  readonly code: number | null;
  /** What the network said, or what we gave up for. */
  readonly error: { readonly code?: string | undefined; readonly message: string } | null;
  /** The broker had accepted us. */
  readonly was_up: boolean;
}

export const REASON = {
  not_authorised: 0x87,
  taken_over: 0x8e,
  packet_too_large: 0x95,
} as const;

/** `where` is the broker as people know it, without secrets; `now` our clock, which may be wrong. */
export function explainEnding(ending: Ending, where: string, now: Moment): Trouble {
  const refusal = ending.code === null ? null : explainCode(ending.code, where, ending.was_up);
  if (refusal !== null) return refusal;
  return { sentence: explainNetwork(ending, where, now), alarm: null };
}

/** Two recorders of one name throw each other out. */
export const explainConflict = (where: string): Trouble => ({
  sentence: `Another recorder with the same site and recorder name has taken our place at ${where}: give one of the two another name.`,
  alarm: "recorder-conflict",
});

/** The broker took a message and said no. */
export function explainRefusal(topic: string, code: number): Trouble {
  if (code === REASON.not_authorised) {
    return {
      sentence: `The broker does not let us publish ${topic}: allow it there for the recorder's user.`,
      alarm: "not-authorised",
    };
  }
  if (code === REASON.packet_too_large) {
    return { sentence: `A message on ${topic} is larger than the broker takes: raise its packet limit.`, alarm: null };
  }
  return {
    sentence: `The broker refused a message on ${topic} with reason ${hex(code)}: see its log and its limits.`,
    alarm: null,
  };
}

/** A message of `bytes` that ended the connection at each try. */
export const explainAside = (topic: string, bytes: number): Trouble => ({
  sentence: `The connection is lost whenever a message of ${bytes} bytes on ${topic} is sent, so it waits and all others go on: raise the broker's limits or see its log.`,
  alarm: null,
});

/** The broker does not serve some of the request topics we want to hear. */
export const explainUnheard = (filter: string, count: number): string =>
  `The broker does not let us hear requests on ${filter}${count > 1 ? ` and ${count - 1} more topics` : ""}: allow it there for the recorder's user, or shorten control.mqtt.`;

function explainCode(code: number, where: string, was_up: boolean): Trouble | null {
  switch (code) {
    case 1:
    case 0x84:
      return { sentence: `The broker at ${where} does not speak MQTT 5: use one that does.`, alarm: null };
    case 4:
    case 5:
    case 0x86:
    case REASON.not_authorised:
      // At the door mosquitto says "not authorized" of a wrong password too; later it can only mean rights.
      return {
        sentence: was_up
          ? `The broker at ${where} does not let this user do what it does: give it the right there.`
          : `The broker at ${where} does not let us in: correct broker.username or broker.password_file, or give that user the right there.`,
        alarm: "not-authorised",
      };
    case REASON.taken_over:
      return explainConflict(where);
    case 3:
    case 0x88:
    case 0x89:
    case 0x8b:
      return { sentence: `The broker at ${where} is not ready or is going down: trying again.`, alarm: null };
    case 0x8a:
      return { sentence: `The broker at ${where} has banned us: have it let us in again.`, alarm: null };
    case 0x9c:
    case 0x9d:
      return {
        sentence: `The broker at ${where} sends us to another one: put that one's address in broker.url.`,
        alarm: null,
      };
    default:
      // Below 0x80 a DISCONNECT is no failure: the broker said goodbye.
      if (code < 0x80 && was_up) return null;
      return { sentence: `The broker at ${where} turned us away with reason ${hex(code)}: see its log.`, alarm: null };
  }
}

function explainNetwork(ending: Ending, where: string, now: Moment): string {
  const { error, was_up } = ending;
  switch (error?.code) {
    case "ECONNREFUSED":
      return `Nothing listens at ${where}: start the broker or correct broker.url.`;
    case "ENOTFOUND":
    case "EAI_AGAIN":
      return `The name of the broker at ${where} is not known: correct broker.url or the network's name service.`;
    case "EHOSTUNREACH":
    case "ENETUNREACH":
    case "ENETDOWN":
      return `There is no way to ${where}: check the network.`;
    case "CERT_NOT_YET_VALID":
      return now.clock_synced
        ? `The certificate of ${where} is not valid yet, and our clock is set to ${dayOf(now)}: have one made that is.`
        : `The certificate of ${where} is not valid yet by our clock, which is not set: the connection will come once it is.`;
    case "CERT_HAS_EXPIRED":
      return `The certificate of ${where} has expired by our clock, which says ${dayOf(now)}: renew it, or set the clock.`;
    case "SELF_SIGNED_CERT_IN_CHAIN":
    case "DEPTH_ZERO_SELF_SIGNED_CERT":
    case "UNABLE_TO_VERIFY_LEAF_SIGNATURE":
    case "UNABLE_TO_GET_ISSUER_CERT_LOCALLY":
      return `The certificate of ${where} is signed by nobody we know: name its signer in broker.ca_file.`;
    case "ERR_TLS_CERT_ALTNAME_INVALID":
      return `The certificate at ${where} is for another name: use that name in broker.url.`;
    case UNREADABLE_FILE:
      return error.message;
  }
  if (was_up) return `The connection to the broker at ${where} was lost: trying again.`;
  const detail = error === null ? "it closed the connection" : error.message;
  return `The broker at ${where} does not answer as one (${detail}): check broker.url and the broker's log.`;
}

/** The code of an error whose message is already the sentence: a file named in the configuration cannot be read. */
export const UNREADABLE_FILE = "UNREADABLE_FILE";

const dayOf = ({ at_ms }: Moment): string => new Date(at_ms).toISOString().slice(0, 10);

const hex = (code: number): string => `0x${code.toString(16).padStart(2, "0")}`;

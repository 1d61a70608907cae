/** Codes: MQTT 5.0 section 2.4, MQTT 3.1.1 section 3.2.2.3. Network codes: Node.js errors and OpenSSL verification. */
import { describe, expect, test } from "vitest";
import { ALARM_CODES } from "../../../protocol/vocabulary.ts";
import {
  type Ending,
  explainAside,
  explainEnding,
  explainRefusal,
  UNREADABLE_FILE,
} from "../../../recorder/mqtt/trouble.ts";

const WHERE = "broker.example:8883";
const SET = { at_ms: Date.UTC(2026, 10, 20), clock_synced: true };
const ending = (part: Partial<Ending>): Ending => ({ code: null, error: null, was_up: false, ...part });
const network = (code: string): Ending => ending({ error: { code, message: `raw ${code}` } });

describe("an end of a connection", () => {
  test.each<[string, Ending, string | null, string]>([
    ["3.1.1 unacceptable protocol", ending({ code: 1 }), null, "MQTT 5"],
    ["3.1.1 server unavailable", ending({ code: 3 }), null, "not ready"],
    ["3.1.1 bad user or password", ending({ code: 4 }), "not-authorised", "password_file"],
    ["3.1.1 not authorised", ending({ code: 5 }), "not-authorised", "right"],
    ["5.0 unsupported version", ending({ code: 0x84 }), null, "MQTT 5"],
    ["5.0 bad user or password", ending({ code: 0x86 }), "not-authorised", "password_file"],
    ["5.0 not authorised", ending({ code: 0x87, was_up: true }), "not-authorised", "right"],
    ["5.0 shutting down", ending({ code: 0x8b, was_up: true }), null, "going down"],
    ["5.0 banned", ending({ code: 0x8a }), null, "banned"],
    ["5.0 use another server", ending({ code: 0x9c, was_up: true }), null, "broker.url"],
    ["5.0 server moved", ending({ code: 0x9d }), null, "broker.url"],
    ["5.0 taken over", ending({ code: 0x8e, was_up: true }), "recorder-conflict", "another name"],
    ["5.0 anything else", ending({ code: 0x93, was_up: true }), null, "0x93"],
    ["5.0 a plain goodbye", ending({ code: 0, was_up: true }), null, "was lost"],
    ["refused port", network("ECONNREFUSED"), null, "Nothing listens"],
    ["unknown name", network("ENOTFOUND"), null, "name of the broker"],
    ["name service away", network("EAI_AGAIN"), null, "name service"],
    ["no route", network("EHOSTUNREACH"), null, "no way"],
    ["a certificate of tomorrow", network("CERT_NOT_YET_VALID"), null, "our clock is set to 2026-11-20"],
    ["certificate too old", network("CERT_HAS_EXPIRED"), null, "says 2026-11-20: renew it"],
    ["unknown signer", network("SELF_SIGNED_CERT_IN_CHAIN"), null, "broker.ca_file"],
    ["another name in it", network("ERR_TLS_CERT_ALTNAME_INVALID"), null, "broker.url"],
    ["something else", network("EPROTO"), null, "raw EPROTO"],
    ["no MQTT there", ending({}), null, "closed the connection"],
    [
      "the line went",
      ending({ was_up: true, error: { code: "ECONNRESET", message: "read ECONNRESET" } }),
      null,
      "was lost",
    ],
  ])("%s", (_what, end, alarm, words) => {
    const trouble = explainEnding(end, WHERE, SET);
    expect(trouble.alarm).toBe(alarm);
    expect(trouble.sentence).toContain(words);
    expect(trouble.sentence).toContain(WHERE);
    // One sentence, that says where and what would do.
    expect(trouble.sentence).toMatch(/^[A-Z][^\n]*: [^\n]*\.$/);
    if (alarm !== null) expect(ALARM_CODES).toContain(alarm);
  });

  test("a clock that was never set is named before a certificate is", () => {
    const { sentence } = explainEnding(network("CERT_NOT_YET_VALID"), WHERE, { at_ms: 0, clock_synced: false });
    expect(sentence).toContain("by our clock, which is not set: the connection will come once it is");
  });

  test("a file that cannot be read is already a sentence", () => {
    const message = "broker.ca_file cannot be read (/x, ENOENT): put the file there and let our user read it.";
    expect(explainEnding(ending({ error: { code: UNREADABLE_FILE, message } }), WHERE, SET).sentence).toBe(message);
  });
});

test("a refused message names its topic; only a missing right is an alarm", () => {
  expect(explainRefusal("a/b/set", 0x87)).toEqual({
    sentence: "The broker does not let us publish a/b/set: allow it there for the recorder's user.",
    alarm: "not-authorised",
  });
  expect(explainRefusal("a/b/set", 0x95)).toMatchObject({ alarm: null });
  expect(explainRefusal("a/b/set", 0x97).sentence).toContain("0x97");
});

test("a message that is set aside is named by its topic and size, in one sentence", () => {
  const { sentence, alarm } = explainAside("a/b/set", 30_000);
  expect(sentence).toMatch(/^The connection is lost [^\n]* 30000 bytes on a\/b\/set [^\n]*: [^\n]*\.$/);
  expect(alarm).toBeNull();
});

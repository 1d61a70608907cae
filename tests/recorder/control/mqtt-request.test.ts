/** Messages on request topics: what is asked, and what is wrong. JSON by RFC 8259, UTF-8 by RFC 3629. */
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { type RequestTopic, responseTopic } from "../../../protocol/messages/topics.ts";
import { expiry, readMqttRequest } from "../../../recorder/control/mqtt-request.ts";

const ID = "5d1f6a39-14a3-4e8e-9c0e-3a4bb1a5c001";
const AT_ROW = (verb: string, group = "read"): RequestTopic => ({ owner: "station", id: "row", group, verb });
const AT_BOX = (verb: string, group = "read"): RequestTopic => ({ owner: "recorder", id: "box", group, verb });
const read = (topic: RequestTopic, payload: object | string | Uint8Array) => {
  const text = payload instanceof Uint8Array || typeof payload === "string" ? payload : JSON.stringify(payload);
  return readMqttRequest(topic, Buffer.from(text as string));
};
const who = { request_id: ID, asker: "tablet" };

describe("what is asked", () => {
  test("the station is the topic's, said twice or not", () => {
    const asked = { ...who, args: { station: "row", because: "pain" }, asked_at_ms: null };
    expect(read(AT_ROW("end", "train"), { ...who, because: "pain" })).toEqual({ is: "asked", asked });
    expect(read(AT_ROW("end", "train"), { ...who, because: "pain", station: "row" })).toEqual({ is: "asked", asked });
  });

  test("a verb about no station gets none", () => {
    expect(read(AT_ROW("set"), { ...who, set_id: ID })).toMatchObject({ asked: { args: { set_id: ID } } });
    expect(read(AT_BOX("set"), { ...who, set_id: ID })).toMatchObject({ asked: { args: { set_id: ID } } });
  });

  test("all stations, or one, at the recorder's topic", () => {
    expect(read(AT_BOX("status"), who)).toMatchObject({ asked: { args: {} } });
    expect(read(AT_BOX("status"), { ...who, station: "row" })).toMatchObject({ asked: { args: { station: "row" } } });
  });

  test("when it was asked counts only from a clock that was set", () => {
    const at = "2026-11-25T10:00:00.000+01:00";
    const asked_at_ms = Date.UTC(2026, 10, 25, 9);
    expect(read(AT_ROW("zero", "train"), { ...who, at, clock_synced: true })).toMatchObject({ asked: { asked_at_ms } });
    for (const unset of [{ at }, { at, clock_synced: false }, { clock_synced: true }]) {
      expect(read(AT_ROW("zero", "train"), { ...who, ...unset })).toMatchObject({ asked: { asked_at_ms: null } });
    }
  });

  test("where a verb has an `at` of its own, it keeps it", () => {
    const payload = { ...who, mass_kg: 20, at: "cell", asked_at: "2026-11-25T10:00:00.000Z", clock_synced: true };
    expect(read(AT_ROW("calibration-load", "service"), payload)).toEqual({
      is: "asked",
      asked: { ...who, args: { station: "row", mass_kg: 20, at: "cell" }, asked_at_ms: Date.UTC(2026, 10, 25, 10) },
    });
  });

  test("a byte order mark is ignored, and of a name that comes twice the last counts", () => {
    const twice = `{"asker":"mallory","request_id":"${ID}","asker":"tablet"}`;
    expect(read(AT_BOX("status"), `\uFEFF${twice}`)).toMatchObject({ is: "asked", asked: { asker: "tablet" } });
  });

  test("a prototype is a field like any other, and nobody's prototype", () => {
    const text = `{"request_id":"${ID}","asker":"tablet","__proto__":{"station":"leg-press"},"constructor":1}`;
    const taken = read(AT_BOX("status"), text);
    if (taken.is !== "asked") throw new Error("not taken");
    expect(Object.keys(taken.asked.args).sort()).toEqual(["__proto__", "constructor"]);
    expect((taken.asked.args as { station?: string }).station).toBeUndefined();
  });
});

describe("refused, to whoever asked", () => {
  test.each<[string, RequestTopic, object, string]>([
    ["another station's", AT_ROW("status"), { station: "leg-press" }, "The topic is row's"],
    ["a station that is none", AT_ROW("status"), { station: null }, "The topic is row's"],
    ["a verb of another group", AT_ROW("begin", "read"), {}, "begin is a train verb"],
    ["a group of nothing", AT_ROW("status", "write"), {}, "status is a read verb"],
    ["an act at the recorder", AT_BOX("begin", "train"), { station: "row" }, "at the topic of its station"],
    ["calibrations at the recorder", AT_BOX("calibrations"), { station: "row" }, "at the topic of its station"],
    ["all tags at a station", AT_ROW("tags"), {}, "Ask at .../recorder/{recorder}/request/read/tags."],
    ["a tag at a station", AT_ROW("tag-save", "train"), { tag: "a", trainee: null }, "tag-save is of no one station"],
    ["another schema version", AT_ROW("status"), { schema_version: 2 }, "schema_version must be 1"],
    ["a time that is none", AT_ROW("status"), { at: "yesterday" }, "at must be a time"],
    ["a clock that is neither", AT_ROW("status"), { clock_synced: "yes" }, "clock_synced must be true or false"],
  ])("%s", (_, topic, fields, message) => {
    const taken = read(topic, { ...who, ...fields });
    expect(taken).toMatchObject({ is: "refused", ...who, outcome: { ok: false, error: { code: "bad-request" } } });
    expect(JSON.stringify(taken)).toContain(message);
  });

  test("one byte over the cap, if it begins with who sent it", () => {
    const long = (bytes: number): string => {
      const text = JSON.stringify({ ...who, note: "" });
      return text.replace('"note":""', `"note":"${"x".repeat(bytes - text.length)}"`);
    };
    expect(read(AT_ROW("status"), long(65_536))).toMatchObject({ is: "asked" });
    expect(read(AT_ROW("status"), long(65_537))).toMatchObject({ is: "refused", ...who });
    const late = `{"note":"${"x".repeat(65_536)}","request_id":"${ID}","asker":"tablet"}`;
    expect(read(AT_ROW("status"), late)).toEqual({ is: "unreadable", why: "too-long" });
  });
});

describe("unreadable, so that nobody can be answered", () => {
  test.each<[string, string | Uint8Array, string]>([
    ["nothing", "", "not-json"],
    ["half of it", `{"request_id":"${ID}"`, "not-json"],
    ["bytes that are no UTF-8", Uint8Array.of(0x7b, 0x22, 0xc3, 0x28, 0x22, 0x3a, 0x31, 0x7d), "not-json"],
    ["a surrogate in UTF-8", Uint8Array.of(0x22, 0xed, 0xa0, 0x80, 0x22), "not-json"],
    ["a null byte", `{"a":"\u0000"}`, "not-json"],
    ["NaN", "NaN", "not-json"],
    ["a list", "[]", "not-an-object"],
    ["nothing, as JSON", "null", "not-an-object"],
    ["a number beyond doubles", "1e999", "not-an-object"],
    ["a nest of 30,000", "[".repeat(30_000) + "]".repeat(30_000), "too-deep"],
    ["a nest of 17 in an object", `{"a":${"[".repeat(16)}${"]".repeat(16)}}`, "too-deep"],
    ["a nest of 16", `{"a":${"[".repeat(15)}${"]".repeat(15)}}`, "no-request-id"],
    ["many that are shut again", `{"a":[${"[],".repeat(99)}[]]}`, "no-request-id"],
    ["brackets in a string, behind a quote", `{"a":"${'\\"'.repeat(3)}${"[".repeat(99)}"}`, "no-request-id"],
    ["no id", `{"asker":"tablet"}`, "no-request-id"],
    ["an id that is a path", `{"asker":"tablet","request_id":"../../${ID}"}`, "no-request-id"],
    ["no asker", `{"request_id":"${ID}"}`, "no-asker"],
    ["an asker that is every topic", `{"request_id":"${ID}","asker":"#"}`, "no-asker"],
    ["an asker of two levels", `{"request_id":"${ID}","asker":"a/b"}`, "no-asker"],
    ["an asker that is none", `{"request_id":"${ID}","asker":["tablet"]}`, "no-asker"],
  ])("%s", (_, payload, why) => {
    expect(read(AT_ROW("status"), payload)).toEqual({ is: "unreadable", why });
  });

  test("whatever bytes come, it says something, and an answer has one topic without a wildcard", () => {
    const verb = fc.constantFrom("status", "begin", "set", "watch", "constructor", "__proto__");
    const owner = fc.constantFrom("station" as const, "recorder" as const);
    const fields = fc.record({ request_id: fc.constantFrom(ID, "x", 1), asker: fc.string(), extra: fc.jsonValue() });
    const payload = fc.oneof(
      fc.uint8Array({ maxLength: 200 }),
      fields.map((value) => JSON.stringify(value)),
    );
    fc.assert(
      fc.property(verb, owner, payload, (asked, of, bytes) => {
        const taken = read({ owner: of, id: "row", group: "read", verb: asked }, bytes);
        if (taken.is === "unreadable") return;
        const { request_id, asker } = taken.is === "asked" ? taken.asked : taken;
        const topic = responseTopic("tidemark", "hall", { owner: of, id: "row" }, asker, request_id);
        expect(topic.split("/")).toHaveLength(7);
        expect(["+", "#", "\u0000"].filter((never) => topic.includes(never))).toEqual([]);
      }),
      { numRuns: 3000 },
    );
  });
});

describe("an act that comes late", () => {
  const NOW = Date.UTC(2026, 10, 25, 10);
  const asked = (asked_at_ms: number | null) => ({ ...who, args: {}, asked_at_ms });
  test.each<[string, number, string | null]>([
    ["10 s old", -10_000, null],
    ["a moment more", -10_001, "asked 10 s ago"],
    ["an hour old", -3_600_000, "asked 3600 s ago"],
    ["10 s from now", 10_000, null],
    ["a moment more", 10_001, "one of the two clocks is wrong"],
  ])("%s (%d ms)", (_, offset_ms, said) => {
    const outcome = expiry(asked(NOW + offset_ms), NOW);
    if (said === null) expect(outcome).toBeNull();
    else {
      expect(outcome).toMatchObject({ ok: false, error: { code: "expired" } });
      expect(JSON.stringify(outcome)).toContain(said);
    }
  });
  test("nobody can tell without both clocks", () => {
    expect(expiry(asked(null), NOW)).toBeNull();
    expect(expiry(asked(0), null)).toBeNull();
  });
});

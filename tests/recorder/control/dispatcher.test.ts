import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { done, type Outcome, refused } from "../../../protocol/requests/response.ts";
import { calibrationsResultSchema } from "../../../protocol/requests/results.ts";
import { VERBS } from "../../../protocol/requests/verbs.ts";
import { createDispatcher, type Request } from "../../../recorder/control/dispatcher.ts";
import type { WatchEvent } from "../../../recorder/control/ports.ts";
import { CALIBRATION, CALIBRATION_ID, CHECK, type FakeGym, fakeGym, SET, SET_ID, TAG } from "./fake-gym.ts";

const ALL = ["read", "train", "service"] as const;
const ID = "b7a5a2f0-3c0e-4a55-9d1e-0d6f6d1d0001";
const asking = (gym: FakeGym, verb: unknown, args: unknown = {}, more: Partial<Request> = {}): Promise<Outcome> =>
  createDispatcher(gym)({ verb, args, groups: ALL, door: "socket", request_id: ID, ...more });

describe("what acts goes to its station", () => {
  test("with checked arguments and who asks", async () => {
    const gym = fakeGym({ answer: async () => done("armed") });
    const args = { station: "row", trainee: "T-07", performed_by: "P-01" };
    expect(await asking(gym, "begin", args, { groups: ["train"], door: "mqtt" })).toEqual(done("armed"));
    expect(gym.asked).toEqual([
      { station: "row", request: { verb: "begin", args }, asker: { performed_by: "P-01", door: "mqtt" } },
    ]);
  });

  test("nobody named asks as nobody", async () => {
    const gym = fakeGym();
    await asking(gym, "end", { station: "row" }, { door: "key" });
    expect(gym.asked[0]?.asker).toEqual({ performed_by: null, door: "key" });
  });

  test("the station's refusal is the outcome", async () => {
    const busy = refused("busy", "a set is running since 18:03, begun by P-01");
    expect(await asking(fakeGym({ answer: async () => busy }), "zero", { station: "row" })).toBe(busy);
  });

  const atStations = Object.entries(VERBS).filter(
    ([verb, { group, args }]) => group !== "read" && "station" in args.shape && verb !== "plan-save",
  );

  /** What some cannot do without. */
  const NEEDED: Readonly<Record<string, object>> = {
    "calibration-load": { mass_kg: 20 },
    "calibration-check": { mass_kg: 20, loading: "increasing" },
    "calibration-use": { calibration_id: CALIBRATION_ID },
  };

  test.each(atStations)("%s is one of them", async (verb) => {
    const gym = fakeGym();
    await asking(gym, verb, { station: "row", ...NEEDED[verb] });
    expect(gym.asked.map(({ request }) => request.verb)).toEqual([verb]);
  });
});

describe("the record as a whole", () => {
  const path = "/var/backups/record";

  test.each<[string, object, object]>([
    ["backup", { path }, { path }],
    ["restore", { path }, { path }],
    ["export", { path, trainee: "T-07" }, { path, trainee: "T-07" }],
    ["import", { path, performed_by: "P-01" }, { path, performed_by: "P-01" }],
    ["import", { path }, { path, performed_by: null }],
    ["erase", { trainee: "T-07" }, { trainee: "T-07" }],
  ])("%s %j goes to who looks after it, and to no station", async (verb, args, given) => {
    const gym = fakeGym();
    expect(await asking(gym, verb, args)).toMatchObject({ ok: true });
    expect(gym.cared).toEqual([{ verb, args: given }]);
    expect(gym.asked).toEqual([]);
    expect(gym.audited[0]?.fields).toMatchObject({ verb, outcome: "done" });
  });

  test.each(["backup", "restore", "export", "import", "erase"])("%s is never taken over MQTT", async (verb) => {
    const gym = fakeGym();
    expect(await asking(gym, verb, { path }, { door: "mqtt" })).toMatchObject({ error: { code: "not-permitted" } });
    expect(gym.cared).toEqual([]);
  });

  test.each(["record.jsonl", "./record.jsonl", "", "/", "/a\0b"])("%j is no whole path", async (name) => {
    const gym = fakeGym();
    expect(await asking(gym, "export", { path: name })).toMatchObject({ error: { code: "bad-request" } });
    expect(gym.cared).toEqual([]);
  });

  test("an import names one source", async () => {
    const gym = fakeGym();
    expect(await asking(gym, "import", {})).toMatchObject({ error: { code: "bad-request" } });
    expect(await asking(gym, "import", { path, calibration: {} })).toMatchObject({ error: { code: "bad-request" } });
    expect(gym.cared).toEqual([]);
  });
});

describe("what changes the record goes to it, and to no station", () => {
  test("an amendment, as it was asked", async () => {
    const gym = fakeGym();
    const args = { set_id: SET_ID, pain: 3, side: null, performed_by: "P-01" };
    expect(await asking(gym, "amend", args)).toMatchObject(done({ set: { pain: 3, side: null }, amended: true }));
    expect(gym.asked).toEqual([]);
    expect(gym.audited[0]?.fields).toMatchObject({ verb: "amend", performed_by: "P-01", outcome: "done" });
  });

  test("who has themselves erased is not named once more by that", async () => {
    const gym = fakeGym();
    await asking(gym, "erase", { trainee: "T-07", performed_by: "T-07" });
    await asking(gym, "erase", { trainee: "T-07", performed_by: "P-01" });
    expect(gym.audited.map(({ fields }) => (fields as { performed_by?: string }).performed_by)).toEqual([
      undefined,
      "P-01",
    ]);
    expect(JSON.stringify(gym.audited)).not.toContain("T-07");
  });

  test("nothing to amend is a fault of the request", async () => {
    const nothing = await asking(fakeGym(), "amend", { set_id: SET_ID, performed_by: "P-01" });
    expect(nothing).toMatchObject({
      error: { code: "bad-request", message: expect.stringContaining("at least one of") },
    });
  });

  test("of which station it must be is handed on", async () => {
    const gym = fakeGym();
    await asking(gym, "amend", { set_id: SET_ID, void: true }, { within: "row" });
    await asking(gym, "amend", { set_id: SET_ID, void: true });
    expect(gym.amended_within).toEqual(["row", undefined]);
  });

  test("a tag, linked or not any more", async () => {
    const gym = fakeGym();
    for (const trainee of ["T-07", null]) {
      expect(await asking(gym, "tag-save", { tag: "band-0142", trainee })).toEqual(done({ tag: "band-0142", trainee }));
    }
    expect(gym.asked).toEqual([]);
    expect(await asking(gym, "tags")).toEqual(done({ tags: [TAG] }));
  });
});

describe("what reads goes to the record", () => {
  test("status, of all or of one", async () => {
    expect(await asking(fakeGym(), "status")).toEqual(done({ of: "all" }));
    expect(await asking(fakeGym(), "status", { station: "row" })).toEqual(done({ of: "row" }));
  });

  test("sets, a hundred where no limit is given", async () => {
    const gym = fakeGym();
    expect(await asking(gym, "sets", { trainee: "T-07" })).toMatchObject({ ok: true, result: { last_set_seq: 12 } });
    expect(gym.queried).toEqual([{ trainee: "T-07", limit: 100 }]);
  });

  test("one set, alone or with its curve and input log", async () => {
    expect(await asking(fakeGym(), "set", { set_id: SET_ID })).toEqual(done({ set: SET }));
    const outcome = await asking(fakeGym(), "set", { set_id: SET_ID, curve: true });
    expect(JSON.parse(JSON.stringify(outcome))).toMatchObject({
      ok: true,
      result: {
        set: { set_id: SET_ID },
        curve: { elapsed_s: [-0.0125, 0, 0.0125], force_N: [0.01, null, -0.01] },
        log: { at_us: [0, 12_500, 25_000], counts: [84_123, 84_130, 84_119], events: [{ before: 1 }] },
      },
    });
  });

  test("a set that is not kept", async () => {
    const other = SET_ID.replace(/1$/, "2");
    expect(await asking(fakeGym(), "set", { set_id: other })).toEqual(
      refused("out-of-range", `No set ${other} is kept here.`, "`sets` lists those that are."),
    );
  });

  test("calibrations, and which is in force", async () => {
    const known = {
      in_force: CALIBRATION_ID,
      due: CALIBRATION.due,
      calibrations: [CALIBRATION],
      checks: [CHECK],
      in_force_since: [{ calibration_id: CALIBRATION_ID, at: CALIBRATION.at, performed_by: "P-01" }],
    };
    const answer = await asking(fakeGym(), "calibrations", { station: "leg-press" });
    expect(answer).toEqual(done(known));
    expect(calibrationsResultSchema.parse(answer.ok && answer.result)).toEqual(known);
    const nothing = { calibrations: [], checks: [], in_force_since: [], in_force: null, due: null };
    const none = fakeGym({
      record: {
        calibrations: async () => [],
        calibrationInForce: async () => null,
        calibrationDue: async () => null,
        putInForce: async () => [],
        checks: async () => [],
      },
    });
    expect(await asking(none, "calibrations", { station: "row" })).toEqual(done(nothing));
  });

  test("where the zero stood, in newtons by the record of each time, as far as that is kept", async () => {
    const answer = await asking(fakeGym(), "calibrations", { station: "leg-press", zeros: true });
    const { zeros } = calibrationsResultSchema.parse(answer.ok && answer.result);
    // 1000 counts at 812.345678 counts per N.
    expect(zeros?.map(({ zero_shift_N, cause }) => [zero_shift_N, cause])).toEqual([
      [null, "asked"],
      [1.23, "tracked"],
    ]);
  });

  test("import is for the service socket, and is not told to the log", async () => {
    const gym = fakeGym();
    const calibration = { calibration_id: CALIBRATION_ID, station: "leg-press", note: "secret detail" };
    const asked = await asking(gym, "import", { calibration, performed_by: "P-01" });
    expect(asked).toEqual(done({ calibration_id: CALIBRATION_ID, station: "leg-press", imported: true }));
    expect(gym.imported).toEqual([calibration]);
    expect(gym.audited).toMatchObject([{ fields: { verb: "import", performed_by: "P-01", outcome: "done" } }]);
    expect(JSON.stringify(gym.audited)).not.toContain("secret detail");
    for (const over of [{ groups: ["read", "train"] }, { door: "mqtt", groups: ["read", "train", "service"] }]) {
      expect(await asking(gym, "import", { calibration }, over as object)).toMatchObject({
        error: { code: "not-permitted" },
      });
    }
    expect(await asking(gym, "import", { calibration, station: "row" })).toMatchObject({
      error: { code: "bad-request" },
    });
    expect(gym.imported).toHaveLength(1);
  });

  test("a record that cannot be read is said, and the log has the rest", async () => {
    const gym = fakeGym({ record: { sets: () => Promise.reject(new Error("disk I/O error at /var/lib/x")) } });
    const outcome = await asking(gym, "sets");
    expect(outcome).toMatchObject({ ok: false, error: { code: "storage" } });
    expect(JSON.stringify(outcome)).not.toContain("/var/lib");
    expect(gym.logged).toMatchObject([{ fields: { request_id: ID, verb: "sets" } }]);
  });
});

describe("refused", () => {
  test.each<[string, unknown, unknown, object]>([
    ["no verb", undefined, {}, { code: "bad-request", message: "The verb is missing or not text." }],
    [
      "a verb of nothing",
      "begn",
      {},
      { code: "bad-request", message: '"begn" is not a verb.', hint: "Did you mean begin?" },
    ],
    ["what every object has", "constructor", {}, { code: "bad-request" }],
    ["no station", "begin", {}, { code: "bad-request", message: "begin: station is missing." }],
    [
      "a field of nothing",
      "begin",
      { station: "row", stile: "hold" },
      { code: "bad-request", message: "begin: stile is not a known key, did you mean style?" },
    ],
    [
      "a field out of range",
      "begin",
      { station: "row", options: { grace_s: 9 } },
      { code: "bad-request", message: "begin: options.grace_s must be at most 5." },
    ],
    [
      "percent for a fraction",
      "begin",
      { station: "row", fatigue_threshold: 40 },
      {
        code: "bad-request",
        message: "begin: fatigue_threshold must be at most 0.75.",
        hint: "Fractions are 0..1 here: 40 % is 0.4.",
      },
    ],
    ["arguments that are none", "begin", null, { code: "bad-request", message: "begin: must be a table of keys." }],
    [
      "a load given twice",
      "calibration-load",
      { station: "row", mass_kg: 1, force_N: 1 },
      { code: "bad-request", message: "calibration-load: give the load once, as mass_kg or as force_N." },
    ],
    [
      "a station that is not here",
      "begin",
      { station: "leg-pres" },
      {
        code: "unknown-station",
        message: "There is no station leg-pres here.",
        hint: "Did you mean leg-press? There are: leg-press, row.",
      },
    ],
    [
      "one that is like none",
      "status",
      { station: "xyz" },
      { code: "unknown-station", hint: "There are: leg-press, row." },
    ],
    ["watch, at a door that answers once", "watch", {}, { code: "not-permitted" }],
  ])("%s", async (_, verb, args, error) => {
    const gym = fakeGym();
    expect(await asking(gym, verb, args)).toMatchObject({ ok: false, error });
    expect(gym.asked).toEqual([]);
    expect(gym.logged).toEqual([]);
  });

  test.each(Object.entries(VERBS))("%s, where its group may not", async (verb, { group }) => {
    const gym = fakeGym();
    const others = ALL.filter((other) => other !== group);
    // Said before the arguments are looked at: who may not ask learns nothing from how it is answered.
    const outcome = await asking(gym, verb, { nonsense: 1 }, { groups: others });
    expect(outcome).toMatchObject({ ok: false, error: { code: "not-permitted" } });
    expect(gym.asked).toEqual([]);
  });

  test("the verbs that may be asked are listed, and no others", async () => {
    const outcome = await asking(fakeGym(), "zzzzzz", {}, { groups: ["read"] });
    expect(outcome).toMatchObject({
      error: { hint: "There are: status, sets, set, watch, tags, calibrations, plan, trend." },
    });
  });

  test("very many faults make a short answer", async () => {
    const args = Object.fromEntries(Array.from({ length: 900 }, (_, i) => ["k".repeat(60) + i, i]));
    expect(JSON.stringify(await asking(fakeGym(), "begin", args)).length).toBeLessThan(1200);
  });
});

describe("what breaks inside", () => {
  test.each<[string, FakeGym]>([
    ["a station that rejects", fakeGym({ answer: () => Promise.reject(new Error("secret detail")) })],
    [
      "a station that throws",
      fakeGym({
        answer: () => {
          throw new Error("secret detail");
        },
      }),
    ],
  ])("%s: internal, logged, not leaked", async (_, gym) => {
    const outcome = await asking(gym, "zero", { station: "row" });
    expect(outcome).toMatchObject({ ok: false, error: { code: "internal" } });
    expect(JSON.stringify(outcome)).not.toContain("secret");
    expect(gym.logged).toMatchObject([{ fields: { err: { message: "secret detail" }, request_id: ID } }]);
  });

  test("a status that throws", async () => {
    const gym = fakeGym({
      status: () => {
        throw new TypeError("x");
      },
    });
    expect(await asking(gym, "status")).toMatchObject({ error: { code: "internal" } });
  });

  test("nothing anybody sends rejects or is taken for a broken program", async () => {
    const verb = fc.oneof(fc.constantFrom(...Object.keys(VERBS)), fc.string(), fc.jsonValue());
    await fc.assert(
      fc.asyncProperty(verb, fc.jsonValue(), async (asked, args) => {
        const gym = fakeGym();
        const stream = { event: () => {}, signal: AbortSignal.abort() };
        const outcome = await asking(gym, asked, args, { stream });
        expect(gym.logged).toEqual([]);
        expect(typeof outcome.ok).toBe("boolean");
      }),
      { numRuns: 500 },
    );
  });
});

describe("watch", () => {
  const live = (station: string): WatchEvent => ({ station, topic: "live", message: { force_N: 1 } });

  test("streams until the signal, then answers and lets go", async () => {
    const gym = fakeGym();
    const heard: WatchEvent[] = [];
    const over = new AbortController();
    const outcome = asking(
      gym,
      "watch",
      { station: "row" },
      { stream: { event: (e) => heard.push(e), signal: over.signal } },
    );
    expect(gym.watchers()).toBe(1);
    gym.happen(live("row"));
    gym.happen(live("leg-press"));
    expect(heard).toEqual([live("row")]);
    over.abort();
    expect(await outcome).toEqual(done({}));
    expect(gym.watchers()).toBe(0);
  });

  test("of a station that is not here is refused", async () => {
    const stream = { event: () => {}, signal: new AbortController().signal };
    expect(await asking(fakeGym(), "watch", { station: "rwo" }, { stream })).toMatchObject({
      error: { code: "unknown-station" },
    });
  });
});

/** The door at the broker, with a broker that does as the test says. */
import { randomUUID } from "node:crypto";
import { describe, expect, test } from "vitest";
import { done, type Outcome, refused } from "../../../protocol/requests/response.ts";
import type { VerbGroup } from "../../../protocol/requests/verbs.ts";
import { createDispatcher, type Dispatch } from "../../../recorder/control/dispatcher.ts";
import { openMqttDoor, type Posted } from "../../../recorder/control/mqtt-door.ts";
import { validateMessage } from "../../protocol/messages/validate.ts";
import { type FakeGym, fakeGym, SET, SET_ID } from "./fake-gym.ts";

const ENVELOPE = {
  schema_version: 1,
  at: "2026-11-25T10:00:00.000Z",
  clock_synced: true,
  recorder: "box",
  boot: "7f1c0a52-6f0e-4a57-9f0c-0d9a2b6f7c11",
  simulated: false,
} as const;
const ALL: readonly VerbGroup[] = ["read", "train", "service"];

interface Post {
  readonly topic: string;
  readonly payload: string;
  readonly body: {
    readonly request_id: string;
    readonly ok: boolean;
    readonly result?: unknown;
    readonly error?: { code: string };
  };
  readonly tree: string;
}

interface Setting {
  readonly gym?: FakeGym;
  readonly groups?: readonly VerbGroup[];
  readonly dispatch?: Dispatch;
  readonly posted?: (post: Post) => Promise<Posted>;
}

function door({ gym = fakeGym(), groups = ALL, dispatch, posted = async () => "taken" }: Setting = {}) {
  const posts: Post[] = [];
  let filters: readonly string[] = [];
  let hear: (topic: string, payload: Buffer, retained: boolean) => void = () => {};
  let now_ms = 0;
  const opened = openMqttDoor({
    root: "tidemark",
    site: "hall",
    recorder: "box",
    stations: gym.stations.ids(),
    groups,
    dispatch: dispatch ?? createDispatcher(gym),
    bus: {
      listen(wanted, listener) {
        filters = wanted;
        hear = listener;
      },
      answer(topic, payload, tree) {
        expect(validateMessage("response", payload)).toEqual([]);
        const post = { topic, payload, tree, body: JSON.parse(payload) as Post["body"] };
        posts.push(post);
        return posted(post);
      },
    },
    envelope: () => ENVELOPE,
    now_ms: () => now_ms,
    log: gym.log,
  });
  const ask = (at: string, fields: object = {}, retained = false): string => {
    const payload = { request_id: randomUUID(), asker: "tablet", ...fields };
    hear(`tidemark/hall/${at}`, Buffer.from(JSON.stringify(payload)), retained);
    return payload.request_id;
  };
  return {
    ...opened,
    gym,
    posts,
    filters,
    ask,
    hear,
    pass: (ms: number) => {
      now_ms += ms;
    },
    answers: async (count: number) => {
      while (posts.length < count) await new Promise(setImmediate);
      return posts.map(({ body }) => body);
    },
  };
}

/** Lets everything that has been promised happen. */
const settle = async (): Promise<void> => {
  for (let turn = 0; turn < 20; turn += 1) await new Promise(setImmediate);
};

describe("what is heard", () => {
  test("the groups that may, at our stations and our recorder, and no other topic", () => {
    expect(door({ groups: ["read", "train", "read"] }).filters).toEqual([
      "tidemark/hall/station/leg-press/request/read/+",
      "tidemark/hall/station/leg-press/request/train/+",
      "tidemark/hall/station/row/request/read/+",
      "tidemark/hall/station/row/request/train/+",
      "tidemark/hall/recorder/box/request/read/+",
      "tidemark/hall/recorder/box/request/train/+",
    ]);
    expect(door({ groups: [] }).filters).toEqual([]);
  });

  test("what is to be retained, what is closed to, and other topics are not", async () => {
    const { ask, hear, posts, gym, close, unheard } = door();
    ask("station/row/request/train/end", {}, true);
    hear("tidemark/hall/station/row/state", Buffer.from("{}"), false);
    close();
    ask("station/row/request/train/end");
    await settle();
    expect([posts, gym.asked]).toEqual([[], []]);
    expect(unheard()).toEqual({ retained: 1 });
  });
});

describe("an answer", () => {
  test("goes to the asker, beside the request, with the envelope", async () => {
    const { ask, answers, posts } = door();
    const request_id = ask("station/row/request/read/status");
    expect(await answers(1)).toEqual([{ ...ENVELOPE, request_id, ok: true, result: { of: "row" } }]);
    expect(posts[0]).toMatchObject({
      topic: `tidemark/hall/station/row/response/tablet/${request_id}`,
      tree: "tidemark/hall/station/row/response/#",
    });
  });

  test("of an act names its station and asker to the log, once, and nothing about the trainee", async () => {
    const gym = fakeGym({ answer: async () => refused("busy", "A set is running.") });
    const { ask, answers } = door({ gym });
    const request_id = ask("station/row/request/train/begin", { trainee: "T-07", performed_by: "P-01" });
    expect(await answers(1)).toMatchObject([{ ok: false, error: { code: "busy" } }]);
    expect(gym.asked).toMatchObject([{ station: "row", asker: { performed_by: "P-01", door: "mqtt" } }]);
    const fields = {
      verb: "begin",
      station: "row",
      door: "mqtt",
      asker: "tablet",
      performed_by: "P-01",
      request_id,
      outcome: "busy",
    };
    expect(gym.audited.map((line) => line.fields)).toEqual([fields]);
  });

  test.each<[string, string, object, object]>([
    ["a stream", "station/row/request/read/watch", {}, { code: "not-permitted", hint: "Use a control socket." }],
    ["no verb", "station/row/request/read/statsu", {}, { code: "bad-request", hint: "Did you mean status?" }],
    ["a field of nothing", "station/row/request/train/begin", { stile: 1 }, { code: "bad-request" }],
    ["another's station", "station/row/request/read/status", { station: "leg-press" }, { code: "bad-request" }],
    ["an act at the recorder", "recorder/box/request/train/end", { station: "row" }, { code: "bad-request" }],
    ["another's set", "station/row/request/read/set", { set_id: SET_ID }, { code: "out-of-range" }],
    [
      "old",
      "station/row/request/train/end",
      { at: "2026-11-25T09:59:49.999Z", clock_synced: true },
      { code: "expired" },
    ],
    [
      "of tomorrow",
      "station/row/request/train/end",
      { at: "2026-11-26T10:00:00Z", clock_synced: true },
      { code: "expired" },
    ],
  ])("to %s is a refusal, and nothing is done", async (_, at, fields, error) => {
    const { ask, answers, gym } = door();
    ask(at, fields);
    expect(await answers(1)).toMatchObject([{ ok: false, error }]);
    expect(gym.asked).toEqual([]);
  });

  test("a set is shown at its own station's topic, and at the recorder's", async () => {
    const { ask, answers } = door();
    ask(`station/${SET.station}/request/read/set`, { set_id: SET_ID });
    ask("recorder/box/request/read/set", { set_id: SET_ID });
    expect(await answers(2)).toMatchObject([{ ok: true }, { ok: true }]);
  });

  test("a stale reading is a reading", async () => {
    const { ask, answers } = door();
    ask("station/row/request/read/status", { at: "2020-01-01T00:00:00Z", clock_synced: true });
    expect(await answers(1)).toMatchObject([{ ok: true }]);
  });

  test("that the broker finds too large is one that says so, in bytes as they travel", async () => {
    const posted = async ({ body }: Post): Promise<Posted> => (body.ok ? "too-large" : "taken");
    const gym = fakeGym({ status: () => ({ note: "zwickt spät" }) });
    const { ask, answers, posts } = door({ gym, posted });
    ask("recorder/box/request/read/status");
    expect(await answers(2)).toMatchObject([{ ok: true }, { ok: false, error: { code: "out-of-range" } }]);
    const bytes = Buffer.from(posts[0]?.payload ?? "").length;
    expect(posts[1]?.payload).toContain(`The answer has ${bytes} bytes`);
  });
});

describe("the same request again", () => {
  const END = "station/row/request/train/end";
  const again = { request_id: "5d1f6a39-14a3-4e8e-9c0e-3a4bb1a5c001" };

  test("is answered byte for byte as before, and not done again", async () => {
    const { ask, answers, posts, gym } = door();
    ask(END, again);
    await answers(1);
    ask(END, again);
    await answers(2);
    expect(posts[1]?.payload).toBe(posts[0]?.payload);
    expect(gym.asked).toHaveLength(1);
  });

  test("while it is under way has the one answer", async () => {
    let finish: (outcome: Outcome) => void = () => {};
    const answer = (): Promise<Outcome> =>
      new Promise((resolve) => {
        finish = resolve;
      });
    const { ask, answers, gym } = door({ gym: fakeGym({ answer }) });
    ask(END, again);
    ask(END, again);
    await settle();
    finish(done({}));
    await answers(1);
    await settle();
    expect(await answers(1)).toHaveLength(1);
    expect(gym.asked).toHaveLength(1);
  });

  test("with another content, or at another topic, is refused; from another asker it is another", async () => {
    const { ask, answers, gym } = door();
    ask(END, again);
    await answers(1);
    ask(END, { ...again, because: "pain" });
    ask("station/leg-press/request/train/end", again);
    ask(END, { ...again, asker: "other" });
    const bad = { ok: false, error: { code: "bad-request" } };
    expect(await answers(4)).toMatchObject([{ ok: true }, bad, bad, { ok: true }]);
    expect(gym.asked).toHaveLength(2);
  });

  test("is the same whenever it says that it was asked, and in whatever order and spelling of JSON", async () => {
    const { hear, answers, posts, gym } = door();
    const send = (at: string, text: string): void =>
      hear(`tidemark/hall/station/row/request/${at}`, Buffer.from(text), false);
    const { request_id } = again;
    const who = `"request_id":"${request_id}","asker":"tablet"`;
    send(
      "train/begin",
      `{${who},"at":"2026-11-25T09:59:59.000Z","clock_synced":true,"side":"left","options":{"grace_s":1.5,"best_from":"set"}}`,
    );
    await answers(1);
    send(
      "train/begin",
      `{"options": {"best_from": "\\u0073et", "grace_s": 15e-1},\n "side": "left", "station": "row", "at": "2026-11-25T10:00:00.000Z", ${who}}`,
    );
    await answers(2);
    expect(posts[1]?.payload).toBe(posts[0]?.payload);
    expect(gym.asked).toHaveLength(1);
    send("train/begin", `{${who},"side":"left","options":{"grace_s":1.5,"best_from":"today"}}`);
    expect(await answers(3)).toMatchObject([{ ok: true }, { ok: true }, { error: { code: "bad-request" } }]);
  });

  test("where the verb has an `at` of its own, that one counts", async () => {
    const { ask, answers, posts, gym } = door();
    const load = { ...again, mass_kg: 20, at: "cell" };
    ask("station/row/request/service/calibration-load", { ...load, asked_at: "2026-11-25T09:59:59.000Z" });
    await answers(1);
    ask("station/row/request/service/calibration-load", { ...load, asked_at: "2026-11-25T10:00:00.000Z" });
    await answers(2);
    expect(posts[1]?.payload).toBe(posts[0]?.payload);
    expect(gym.asked).toHaveLength(1);
    ask("station/row/request/service/calibration-load", { ...load, at: "handle" });
    expect(await answers(3)).toMatchObject([{ ok: true }, { ok: true }, { error: { code: "bad-request" } }]);
  });

  test("is remembered over 256 others, and no longer", async () => {
    const { ask, answers, gym } = door();
    ask(END, again);
    await answers(1);
    for (let other = 1; other <= 255; other += 1) {
      ask(END);
      await answers(1 + other);
      await settle();
    }
    ask(END, again);
    await answers(257);
    expect(gym.asked).toHaveLength(256);
    ask(END);
    await answers(258);
    ask(END, again);
    await answers(259);
    expect(gym.asked).toHaveLength(258);
  });

  test("is read again where the answer was long, so that memory stays flat", async () => {
    let reads = 0;
    const status = (): object => {
      reads += 1;
      return { text: "x".repeat(20_000) };
    };
    const { ask, answers } = door({ gym: fakeGym({ status }) });
    ask("recorder/box/request/read/status", again);
    await answers(1);
    ask("recorder/box/request/read/status", again);
    await answers(2);
    expect(reads).toBe(2);
  });
});

describe("too much", () => {
  test("requests under way: the next is told, and answered once there is room", async () => {
    const waiting: ((outcome: Outcome) => void)[] = [];
    const dispatch: Dispatch = () => new Promise((resolve) => waiting.push(resolve));
    const { ask, answers } = door({ dispatch });
    for (let asked = 0; asked < 32; asked += 1) ask("station/row/request/train/end");
    const turned = ask("station/row/request/train/end");
    expect(await answers(1)).toMatchObject([{ request_id: turned, error: { code: "busy" } }]);
    for (const resolve of waiting) resolve(done({}));
    await answers(33);
    await settle();
    ask("station/row/request/train/end", { request_id: turned });
    waiting.at(-1)?.(done({}));
    expect((await answers(34)).at(-1)).toMatchObject({ request_id: turned, ok: true });
  });

  test("a broker that takes no answers: requests are dropped and counted, acts not carried out, memory bounded", async () => {
    let taken: () => void = () => {};
    const all = new Promise<void>((resolve) => {
      taken = resolve;
    });
    const { ask, posts, gym, unheard } = door({ posted: () => all.then(() => "taken") });
    for (let asked = 0; asked < 1000; asked += 1) ask("station/row/request/train/end");
    await settle();
    expect(posts).toHaveLength(64);
    expect(gym.asked).toHaveLength(32);
    expect(unheard()).toEqual({ "answers-waiting": 936 });
    taken();
    await settle();
    ask("station/row/request/train/end");
    await settle();
    expect(posts).toHaveLength(65);
  });

  test("answers of many megabytes: those over 8 MiB together are dropped and counted", async () => {
    const status = (): object => ({ text: "x".repeat(1_000_000) });
    const { ask, posts, unheard } = door({ gym: fakeGym({ status }), posted: () => new Promise(() => {}) });
    for (let asked = 0; asked < 12; asked += 1) ask("recorder/box/request/read/status");
    await settle();
    expect(posts).toHaveLength(8);
    expect(unheard()).toEqual({ "answers-waiting": 4 });
  });

  test("and once the broker has taken them there is room for as many again", async () => {
    const status = (): object => ({ text: "x".repeat(1_000_000) });
    const { ask, answers, unheard } = door({ gym: fakeGym({ status }) });
    for (let asked = 1; asked <= 12; asked += 1) {
      ask("recorder/box/request/read/status");
      await answers(asked);
      await settle();
    }
    expect(unheard()).toEqual({});
  });

  test("nonsense is counted by name, and a flood of it is one line in ten minutes", () => {
    const { hear, gym, unheard, pass } = door();
    const topic = "tidemark/hall/station/row/request/read/status";
    for (let sent = 0; sent < 5000; sent += 1) {
      hear(topic, Buffer.from("nonsense"), false);
      pass(1);
    }
    hear(topic, Buffer.from("[]"), false);
    expect(unheard()).toEqual({ "not-json": 5000, "not-an-object": 1 });
    expect(gym.logged.map(({ fields }) => fields)).toEqual([
      { why: "not-json", counted: 1 },
      { why: "not-an-object", counted: 1 },
    ]);
    pass(600_000);
    hear(topic, Buffer.from("nonsense"), false);
    expect(gym.logged.at(-1)?.fields).toEqual({ why: "not-json", counted: 5001 });
  });
});

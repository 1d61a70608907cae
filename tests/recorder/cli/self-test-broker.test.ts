/** What a self-test sees at the broker: as a display would, in sentences; and secrets in none of them. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, afterEach, describe, expect, it } from "vitest";
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { type DisplayUser, lookAtBroker } from "../../../recorder/cli/self-test/at-broker.ts";
import { brokerFindings, type Expected, topicsOf } from "../../../recorder/cli/self-test/broker-findings.ts";
import { configurationSchema } from "../../../recorder/configuration/schema.ts";
import { type Heard, type Listened, listen } from "../../../recorder/mqtt/listening.ts";
import { type Behaviour, FakeBroker } from "../mqtt/fake-broker.ts";

const EXPECTED: Expected = {
  root: "tidemark",
  site: "north-hall",
  recorder: "hall-box",
  boot: "boot-1",
  stations: [{ id: "leg-press", live_rate_Hz: 10, measures: true }],
};
const LIVE = "tidemark/north-hall/station/leg-press/live";
const STATE = "tidemark/north-hall/station/leg-press/state";
const SENSOR = "tidemark/north-hall/station/leg-press/sensor";
const PRESENCE = "tidemark/north-hall/recorder/hall-box/presence";
const NOON_MS = Date.parse("2026-11-24T12:00:00.000Z");

const stands = (topic: string, message: object): Heard => ({
  topic,
  payload: JSON.stringify(message),
  retained: true,
  after_ms: 20,
  wall_ms: NOON_MS,
});
const STANDING = [stands(STATE, {}), stands(SENSOR, {}), stands(PRESENCE, { online: true, boot: "boot-1" })];

/** Ten seconds of live values, each `late_ms` old when it comes. */
function live(late_ms: (index: number) => number, seqs = Array.from({ length: 100 }, (_, index) => index)): Heard[] {
  return seqs.map((live_seq) => {
    const at_ms = NOON_MS + 100 * live_seq;
    return {
      topic: LIVE,
      payload: JSON.stringify({ boot: "boot-1", live_seq, at: new Date(at_ms).toISOString() }),
      retained: false,
      after_ms: 100 * live_seq,
      wall_ms: at_ms + late_ms(live_seq),
    };
  });
}

const heard = (...messages: readonly Heard[]): Listened => ({
  connected_ms: 12.3,
  refused: [],
  heard: messages,
  lasted_s: 10,
  ending: null,
});
const said = (listened: Listened, expected = EXPECTED): string[][] =>
  brokerFindings(listened, expected, null).map(({ check, level, what }) => [level, check, what]);
const worse = (listened: Listened, expected = EXPECTED): string[][] =>
  said(listened, expected).filter(([level]) => level !== "good");

describe("what is heard", () => {
  it("is good where everything stands there and live values come evenly and soon", () => {
    expect(said(heard(...STANDING, ...live(() => 4)))).toEqual([
      ["good", "connect", "The broker let us in after 12 ms."],
      ["good", "retained", "State, sensor and presence stand there, 3 messages."],
      ["good", "presence", "The recorder is said to be there."],
      [
        "good",
        "live",
        "Live values of leg-press come 10.0 times a second, 4 ms old when they come, 4 ms at most but for one in twenty.",
      ],
    ]);
  });

  it("lacks what does not stand there", () => {
    expect(worse(heard(STANDING[0]!, STANDING[2]!, ...live(() => 4)))).toEqual([
      [
        "fault",
        "retained",
        `Nothing stands at ${SENSOR}: a display that starts now shows nothing there until something changes.`,
      ],
    ]);
    // Published just now is not what stood there.
    const fresh = STANDING.map((one) => ({ ...one, retained: false }));
    expect(worse(heard(...fresh, ...live(() => 4)))).toEqual([
      ["fault", "retained", expect.stringContaining(`Nothing stands at ${PRESENCE} and 2 more`)],
    ]);
  });

  it("may be a recorder that is gone, or another", () => {
    const with_presence = (message: object) =>
      heard(STANDING[0]!, STANDING[1]!, stands(PRESENCE, message), ...live(() => 4));
    expect(worse(with_presence({ online: false, boot: "boot-1" }))).toEqual([
      ["fault", "presence", "The broker says that the recorder is not there."],
    ]);
    expect(worse(with_presence({ online: true, boot: "boot-2" }))).toEqual([
      ["fault", "presence", expect.stringContaining("of another recorder, or of an earlier start")],
    ]);
    const unasked = { ...EXPECTED, boot: null };
    expect(worse(with_presence({ online: true, boot: "boot-2" }), unasked)).toEqual([]);
  });

  it("counts live values that are missing: all of them, some of them, or many", () => {
    expect(worse(heard(...STANDING))).toEqual([
      ["fault", "live", "No live value of leg-press came in 10.0 s, though one a second must."],
    ]);
    const gappy = live(() => 4).filter((_one, index) => index % 20 !== 7);
    expect(worse(heard(...STANDING, ...gappy))).toEqual([
      ["notice", "live-gaps", "5 live values of leg-press were lost on the way."],
    ]);
    const slow = live(() => 4, [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
    expect(worse(heard(...STANDING, ...slow))).toEqual([
      ["notice", "live", "Live values of leg-press come 1.0 times a second, and 10 are configured."],
    ]);
    // One a second is right where nothing is measured.
    const unmeasured = { ...EXPECTED, stations: [{ id: "leg-press", live_rate_Hz: 10, measures: false }] };
    expect(worse(heard(...STANDING, ...slow), unmeasured)).toEqual([]);
  });

  it("counts no gap over a new start of the recorder", () => {
    const [first, second] = [live(() => 4, [100, 101]), live(() => 4, [0, 1, 2])];
    const anew = second.map((one) => ({ ...one, payload: one.payload.replace("boot-1", "boot-9") }));
    const expected = { ...EXPECTED, stations: [{ id: "leg-press", live_rate_Hz: 0.5, measures: true }] };
    expect(worse(heard(...STANDING, ...first, ...anew), expected).filter(([, check]) => check === "live-gaps")).toEqual(
      [],
    );
  });

  it("is late, or uneven: a notice from 150 ms or 100 ms on, a fault from 500 ms", () => {
    const levels = (late_ms: (index: number) => number) =>
      worse(heard(...STANDING, ...live(late_ms))).map(([level, check]) => [level, check]);
    expect(levels(() => 149)).toEqual([]);
    expect(levels(() => 150)).toEqual([["notice", "live-age"]]);
    expect(levels((index) => (index % 10 === 0 ? 110 : 5))).toEqual([["notice", "live-age"]]);
    expect(levels((index) => (index % 50 === 0 ? 110 : 5))).toEqual([]);
    expect(levels(() => 600)).toEqual([["fault", "live-age"]]);
  });

  it("may be what is no message at all", () => {
    const odd = live(() => 4).map((one, index) => (index === 3 ? { ...one, payload: "{" } : one));
    expect(worse(heard(...STANDING, ...odd)).map(([level, check]) => [level, check])).toEqual([
      ["notice", "live-gaps"],
    ]);
  });
});

const SECRET = "swordfish-of-the-hall";
const OWN_SECRET = "cormorant-of-the-box";

describe("a broker that does not let us in, or not everywhere", () => {
  let broker: FakeBroker | null = null;
  const directory = mkdtempSync(join(tmpdir(), "tidemark-broker-"));
  afterEach(async () => {
    await broker?.stop();
    broker = null;
  });
  afterAll(() => rmSync(directory, { recursive: true }));
  const passwordFile = (text: string): string => {
    const path = join(directory, "password");
    writeFileSync(path, text);
    return path;
  };

  async function look(behaviour: Behaviour | null, display: DisplayUser | null, own: object = {}): Promise<Finding[]> {
    broker = await new FakeBroker(behaviour ?? {}).start();
    const { port } = broker;
    if (behaviour === null) await broker.stop();
    const configuration = configurationSchema.parse({
      site: "north-hall",
      recorder: "hall-box",
      store: { path: "unused.db" },
      broker: { url: `mqtt://127.0.0.1:${port}`, ...own },
      station: [
        {
          id: "leg-press",
          exercise: "leg-press",
          serial_port: "/dev/press",
          resistance: "driven",
          cell_capacity_N: 5000,
          force_limit_N: 4000,
          working_force_N: 2500,
          latitude_deg: 52,
        },
      ],
    });
    const { signal } = new AbortController();
    const at = await lookAtBroker({ configuration, display, expected: EXPECTED, for_s: 0.05, signal });
    const findings = at.findings(EXPECTED);
    expect(JSON.stringify(findings)).not.toMatch(/swordfish|cormorant/);
    return [...findings];
  }

  it("nothing listens there", async () => {
    expect(await look(null, null)).toMatchObject([
      {
        check: "connect",
        level: "fault",
        what: expect.stringMatching(/^Nothing listens at 127\.0\.0\.1:\d+\.$/),
        do: "Start the broker or correct broker.url.",
      },
    ]);
  });

  it("the recorder's own, at a port that changes, is where no display finds it", async () => {
    const configuration = { embedded_broker: { port: 0 } } as const;
    const { signal } = new AbortController();
    const at = await lookAtBroker({ configuration, display: null, expected: EXPECTED, for_s: 0.05, signal });
    expect(at.findings(EXPECTED)).toMatchObject([{ level: "notice", do: "Give embedded_broker.port a number." }]);
  });

  it("the display's password is wrong: its flags are to be corrected, not the configuration", async () => {
    const display = { username: "wall", password_file: passwordFile(`${SECRET}\n`) };
    const findings = await look({ onConnect: () => 0x86 }, display);
    expect(findings).toMatchObject([
      {
        check: "connect",
        level: "fault",
        what: expect.stringContaining("does not let us in"),
        do: expect.stringMatching(/--display-username or --display-password-file/),
      },
    ]);
    expect(broker?.connects).toMatchObject([{ username: "wall", password: Buffer.from(SECRET) }]);
  });

  it("as the recorder's own user where nobody names the display's, and that is said", async () => {
    const own = { username: "box", password_file: passwordFile(OWN_SECRET) };
    const [first] = await look({}, null, own);
    expect(first).toMatchObject({
      check: "user",
      level: "notice",
      what: expect.stringContaining("not as the display's"),
    });
    expect(broker?.connects).toMatchObject([{ username: "box", password: Buffer.from(OWN_SECRET) }]);
    expect(broker?.connects[0]?.will).toBeUndefined();
    expect(broker?.publishes).toEqual([]);
    expect(broker?.disconnects).toHaveLength(1);
  });

  it("a display without a password is not given the recorder's", async () => {
    const own = { username: "box", password_file: passwordFile(OWN_SECRET) };
    await look({}, { username: "wall", password_file: undefined }, own);
    expect(broker?.connects).toMatchObject([{ username: "wall" }]);
    expect(broker?.connects[0]?.password).toBeUndefined();
  });

  it("credentials that cannot be read are a notice: the recorder may well read them", async () => {
    const own = { username: "box", password_file: join(directory, "gone") };
    expect(await look({}, null, own)).toMatchObject([{ check: "credentials", level: "notice" }]);
    const display = { username: "wall", password_file: join(directory, "gone") };
    expect(await look({}, display)).toMatchObject([
      { check: "credentials", level: "fault", what: expect.stringContaining("--display-password-file names") },
    ]);
    expect(broker?.connects).toEqual([]);
  });

  it("a topic that is refused is named, and not looked for any more", async () => {
    const findings = await look(
      { onSubscribe: (topic) => (topic === LIVE ? 0x87 : 1) },
      { username: "wall", password_file: undefined },
    );
    expect(findings.find(({ check }) => check === "rights")).toMatchObject({
      level: "fault",
      what: `The broker does not let this user hear ${LIVE}.`,
    });
    expect(findings.filter(({ check }) => check === "live")).toEqual([]);
  });

  it("all that a display hears is asked for, and nothing else", () => {
    expect(topicsOf(EXPECTED)).toEqual([LIVE, STATE, SENSOR, PRESENCE]);
  });
});

describe("listening ends", () => {
  let broker: FakeBroker | null = null;
  afterEach(async () => {
    await broker?.stop();
    broker = null;
  });
  const start = async (
    behaviour: Behaviour,
    more: { connect_ms?: number; signal?: AbortSignal } = {},
  ): Promise<Listened> => {
    broker = await new FakeBroker(behaviour).start();
    const address = { url: `mqtt://127.0.0.1:${broker.port}`, protocol_version: 5 } as const;
    return listen({ address, secrets: {}, topics: [LIVE], for_s: 3600, ...more });
  };

  it("when the broker says nothing", async () => {
    const ended = await start({ onConnect: () => "nothing" }, { connect_ms: 60 });
    expect(ended).toMatchObject({
      connected_ms: null,
      ending: { was_up: false, error: { message: "no answer within 0.06 s" } },
    });
  });

  it("when the connection is lost, with what was heard, and says so", async () => {
    const ended = await start({
      onSubscribe() {
        setImmediate(() => {
          broker?.say(LIVE, "{}", 5);
          setImmediate(() => broker?.disconnectAll(0x8b));
        });
        return 0;
      },
    });
    expect(ended.heard).toMatchObject([{ topic: LIVE, payload: "{}", retained: false }]);
    expect(ended.ending).toMatchObject({ code: 0x8b, was_up: true });
    const findings = brokerFindings(ended, EXPECTED, "The broker is going down: trying again.");
    expect(findings).toContainEqual(
      expect.objectContaining({ check: "connection", level: "fault", do: "Trying again." }),
    );
  });

  it("when somebody hangs up", async () => {
    const hangingUp = new AbortController();
    const onSubscribe = (): number => {
      setImmediate(() => hangingUp.abort());
      return 0;
    };
    expect((await start({ onSubscribe }, { signal: hangingUp.signal })).ending).toMatchObject({ was_up: true });
    expect((await start({}, { signal: AbortSignal.abort() })).connected_ms).toBeNull();
  });
});

/**
 * Tags and keys as fast as a line can say them, with the machine's own door and a dispatcher that has to wait for its
 * record: one question to the record is under way at a time, everything else is counted, and afterwards all is as ever.
 */
import { expect, it } from "vitest";
import type { Outcome } from "../../../protocol/requests/response.ts";
import type { StationRequest } from "../../../protocol/requests/verbs.ts";
import type { Request } from "../../../recorder/control/dispatcher.ts";
import { atTheMachine } from "../../../recorder/run/at-the-machine.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import type { StationInput } from "../../../recorder/station/exchange.ts";
import { newStation, phaseOf } from "../../../recorder/station/state.ts";
import { BEGINS_MS, KNOWN, record, stationConfiguration, ZERO_COUNTS } from "../station/bench.ts";
import { FakeBoard } from "../station/fake-board.ts";

const PRESENTED = 100_000;

/** As long as a request to the storage thread takes: other things happen meanwhile. */
const turn = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));

class Hammered {
  readonly board = new FakeBoard({ board: "press-left" });
  ms = 0;
  look_ups = 0;
  begins = 0;
  refusals = 0;
  /** Questions to the record: under way, and the most at once. */
  readonly under_way = { now: 0, most: 0 };
  readonly links: Record<string, string> = {};
  /** The record cannot be read. */
  broken = false;
  readonly loop: StationLoop = new StationLoop(newStation(stationConfiguration({ style: "hold" }), false), {
    now: () => ({ ms: this.ms, wall_ms: BEGINS_MS + this.ms, clock_synced: true }),
    signal: (effect) => {
      if (effect.do === "write") this.board.hear(effect.text);
      if (effect.do !== "dispatch" && effect.do !== "look-up-tag") return;
      const store = { tag: (tag: string) => this.#tag(tag) };
      const dispatch = (request: Request) => this.#dispatch(request);
      void atTheMachine(this.loop, effect, { dispatch, store, log: { error: () => {} } });
    },
    keep: (effect) => {
      if (effect.do === "log" && effect.text.startsWith("Refused")) this.refusals += 1;
    },
  });

  constructor() {
    this.loop.take({ kind: "calibration", record: record(), zero: null });
    this.loop.take({ kind: "opened" });
    this.board.out.push("");
    this.board.hello();
    for (let reading = 0; reading < 320; reading++) {
      this.board.read(ZERO_COUNTS + (reading % 5));
      this.pass(12.5);
    }
  }

  async #asking<T>(answer: () => T): Promise<T> {
    this.under_way.now += 1;
    this.under_way.most = Math.max(this.under_way.most, this.under_way.now);
    await turn();
    this.under_way.now -= 1;
    return answer();
  }

  #tag(tag: string) {
    this.look_ups += 1;
    return this.#asking(() => {
      if (this.broken) throw new Error("no record");
      const trainee = this.links[tag];
      return trainee === undefined ? null : { tag, trainee, linked_at: "", performed_by: null };
    });
  }

  async #dispatch({ verb, args }: Request): Promise<Outcome> {
    const request = { verb, args } as StationRequest;
    const asked = { request, by: null, door: "key" } as const;
    if (verb !== "begin") return this.loop.ask(asked, (ask): StationInput => ({ kind: "ask", ask }));
    this.begins += 1;
    const set_id = `01930000-0000-7000-8000-${this.begins.toString(16).padStart(12, "0")}`;
    const history = await this.#asking(() => KNOWN);
    return this.loop.ask(asked, (ask): StationInput => ({ kind: "begin", ask, history, set_id }));
  }

  pass(ms: number): void {
    this.ms += ms;
    this.board.pass(ms * 1000);
    this.loop.take({ kind: "tick" });
    this.listen();
  }

  listen(): void {
    for (const text of this.board.out.splice(0)) this.loop.take({ kind: "line", text, arrived_at_us: this.ms * 1000 });
  }

  async settled(): Promise<void> {
    do await turn();
    while (this.under_way.now > 0);
  }
}

it("100,000 tags in quick succession: one question at a time, and each that was not asked about is counted", async () => {
  const hall = new Hammered();
  for (let shown = 1; shown <= PRESENTED; shown++) {
    hall.board.say({ kind: "tag", tag: `band-${shown}` });
    hall.listen();
    // A read of the line brings so many at most.
    if (shown % 1000 === 0) await turn();
  }
  await hall.settled();
  expect(hall.under_way.most).toBe(1);
  expect(hall.look_ups).toBeGreaterThan(10);
  expect(hall.look_ups).toBeLessThanOrEqual(PRESENTED / 1000);
  expect(hall.look_ups + hall.loop.station.desk.tags_ignored).toBe(PRESENTED);
  expect(hall.refusals).toBe(0);

  hall.links["04/A2"] = "heron-07";
  hall.board.say({ kind: "tag", tag: "04/A2" });
  hall.listen();
  await hall.settled();
  expect(hall.loop.station.set?.path.facts.trainee).toBe("heron-07");
});

it("a tag that came while another was looked up is taken when the reader says it again", async () => {
  const hall = new Hammered();
  for (const tag of ["band-1", "band-2"]) hall.board.say({ kind: "tag", tag });
  hall.listen();
  await hall.settled();
  expect(hall.loop.station.set?.path.facts.trainee).toBe("band-1");
  hall.board.say({ kind: "tag", tag: "band-2" });
  hall.listen();
  await hall.settled();
  expect(hall.loop.station.set?.path.facts.trainee).toBe("band-2");
  expect(hall.loop.station.desk.tags_ignored).toBe(1);
});

it("a look-up or a begin that is refused lets the next tag through", async () => {
  const hall = new Hammered();
  hall.broken = true;
  hall.board.say({ kind: "tag", tag: "band-1" });
  hall.listen();
  await hall.settled();
  hall.broken = false;
  hall.loop.take({ kind: "inspect", since: "2026-11-24T10:00:00.000Z", detail: "It was bent." });
  hall.board.say({ kind: "tag", tag: "band-2" });
  hall.listen();
  await hall.settled();
  expect(hall.refusals).toBe(2);
  hall.board.say({ kind: "tag", tag: "band-3" });
  hall.listen();
  await hall.settled();
  expect(hall.look_ups).toBe(3);
  expect(hall.loop.station.desk).toMatchObject({ looking_up: false, begins_asked: 0, tags_ignored: 0 });
});

it("key 1 pressed over and over asks for one begin at a time, and what runs can always be ended", async () => {
  const hall = new Hammered();
  for (let pressed = 0; pressed < 1000; pressed++) hall.board.say({ kind: "key", key: 1, pressed: true });
  hall.listen();
  expect(hall.begins).toBe(1);
  await hall.settled();
  expect(hall.under_way.most).toBe(1);
  expect(phaseOf(hall.loop.station)).toBe("armed");
  hall.board.say({ kind: "key", key: 1, pressed: true });
  hall.listen();
  await hall.settled();
  expect(phaseOf(hall.loop.station)).toBe("idle");
});

/**
 * Very many broken lines, through the grammar, the sources and the loop of a station: nothing throws, nothing is lost count
 * of, nothing grows, and what comes after them is measured as if they had never come. TIDEMARK_LONG=1 makes them 10,000,000.
 */
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { describe, expect, it } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { ArgsOf } from "../../../protocol/requests/verbs.ts";
import { decodeDeviceLine } from "../../../protocol/serial-line/decode.ts";
import { NO_REJECTS } from "../../../protocol/serial-line/events.ts";
import { REJECTS, type Reject } from "../../../protocol/serial-line/lines.ts";
import { newLineSource, readLine } from "../../../protocol/serial-line/reader.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import type { StationInput } from "../../../recorder/station/exchange.ts";
import { setMessageOf } from "../../../recorder/station/set-message.ts";
import { newStation, phaseOf } from "../../../recorder/station/state.ts";
import { validateMessage } from "../../protocol/messages/validate.ts";
import { HostileLines } from "../../protocol/serial-line/hostile-lines.ts";
import {
  BEGINS_MS,
  COUNTS_PER_N,
  holdCurve,
  KEPT,
  KNOWN,
  messageOf,
  record,
  stationConfiguration,
  ZERO_COUNTS,
} from "../station/bench.ts";
import { FakeBoard } from "../station/fake-board.ts";

const LONG = process.env["TIDEMARK_LONG"] === "1";
const LINES = LONG ? 10_000_000 : 300_000;
/** With all that follows from its keys, a line costs a station ten times what it costs a source. */
const STATION_LINES = LONG ? 10_000_000 : 100_000;
const TIMEOUT_MS = LONG ? 3_600_000 : 60_000;
const GROWTH_BYTES = 5_000_000;

setFlagsFromString("--expose-gc");
const collect = runInNewContext("gc") as () => void;
function heap_bytes(): number {
  collect();
  return process.memoryUsage().heapUsed;
}

const total = (counts: Readonly<Record<Reject, number>>): number =>
  REJECTS.reduce((sum, name) => sum + counts[name], 0);

describe("a line source", () => {
  it.each(["tm1", "bare"] as const)(
    "%s accounts for every line, and stays as small as it was",
    (dialect) => {
      const lines = new HostileLines(7);
      let state = readLine(newLineSource(dialect), { kind: "opened" }).state;
      const counted = { ...NO_REJECTS };
      let [empty, accepted, readings, at_us] = [0, 0, 0, 0];
      let before_bytes = 0;
      const began_ms = performance.now();
      state = readLine(state, { kind: "line", text: "the rest of one nobody saw begin", arrived_at_us: 0 }).state;
      for (let line = 1; line <= LINES; line++) {
        // What a bare board says, among what it does not.
        const text = dialect === "bare" && line % 7 === 0 ? String(12_000 + (line % 9)) : lines.next();
        const step = readLine(state, { kind: "line", text, arrived_at_us: line * 12_500 });
        state = step.state;
        let rejected = 0;
        for (const event of step.events) {
          if (event.kind === "rejected") rejected += 1;
          if (!("at_us" in event)) continue;
          if (event.at_us < at_us) throw new Error(`time went back at line ${line}: ${JSON.stringify(text)}`);
          at_us = event.at_us;
          if (event.kind === "reading") readings += 1;
        }
        const isEmpty = text === "" || text === "\r";
        if (isEmpty) empty += 1;
        else if (rejected === 0) accepted += 1;
        if (dialect === "tm1" && !isEmpty) {
          const read = decodeDeviceLine(text);
          if (read.kind === "rejected") counted[read.reject] += 1;
          if ((read.kind === "rejected" ? 1 : 0) !== rejected)
            throw new Error(`not as it reads: ${JSON.stringify(text)}`);
        }
        if (line === Math.floor(LINES / 5)) before_bytes = heap_bytes();
      }
      const lines_per_s = Math.round(LINES / ((performance.now() - began_ms) / 1000));
      console.info(
        `${dialect}: ${LINES} hostile lines, ${lines_per_s} a second, ${accepted} accepted, ${total(state.rejects)} rejected`,
      );
      expect(empty + accepted + total(state.rejects)).toBe(LINES);
      if (dialect === "tm1") {
        expect(state.rejects).toEqual(counted);
        // Every way to fail is among them, in numbers.
        for (const name of REJECTS) expect(state.rejects[name], name).toBeGreaterThan(LINES / 1000);
      }
      expect(readings).toBeGreaterThan(0);
      expect(heap_bytes() - before_bytes).toBeLessThan(GROWTH_BYTES);
    },
    TIMEOUT_MS,
  );
});

/** A station, its board, and the key requests of one answered as the service would, without a store. */
class Hammered {
  readonly board = new FakeBoard();
  readonly kept: SetMessage[] = [];
  readonly faults = new Set<string>();
  published = 0;
  asked = 0;
  ms = 5000;
  readonly loop: StationLoop = new StationLoop(newStation(stationConfiguration({ style: "hold" }), false), {
    now: () => ({ ms: this.ms, wall_ms: BEGINS_MS + this.ms, clock_synced: true }),
    signal: (effect, now) => {
      if (effect.do === "write") this.board.hear(effect.text);
      if (effect.do === "publish") {
        this.published += 1;
        // Every hundredth: the validator is slower than what it looks at.
        if (this.published % 100 > 0) return;
        for (const fault of validateMessage(effect.topic, messageOf(effect.body, now))) this.faults.add(fault);
      }
      if (effect.do === "dispatch") void this.#pressed(effect.verb, effect.args);
    },
    keep: (effect) => {
      if (effect.do === "keep") this.kept.push(setMessageOf(effect.path, effect.result, KEPT));
    },
  });

  constructor() {
    this.loop.take({ kind: "calibration", record: record(), zero: null });
  }

  async #pressed(verb: string, args: Readonly<Record<string, unknown>>): Promise<void> {
    const outcome = await this.ask(verb, args);
    if (!outcome.ok) this.loop.take({ kind: "key-refused", asked: verb as "begin", why: outcome.error.message });
  }

  ask(verb: string, args: object) {
    this.asked += 1;
    const set_id = `01930000-0000-7000-8000-${this.asked.toString(16).padStart(12, "0")}`;
    const request = { verb, args: { station: "leg-press", ...args } as ArgsOf<"begin"> } as never;
    return this.loop.ask(
      { request, by: null, door: "key" },
      (ask): StationInput => (verb === "begin" ? { kind: "begin", ask, history: KNOWN, set_id } : { kind: "ask", ask }),
    );
  }

  line(text: string): void {
    this.loop.take({ kind: "line", text, arrived_at_us: this.ms * 1000 });
  }

  /** Device and host go on together. */
  pass(ms: number): void {
    this.ms += ms;
    this.board.pass(ms * 1000);
    if (Math.floor(this.ms / 50) !== Math.floor((this.ms - ms) / 50)) this.loop.take({ kind: "tick" });
    for (const text of this.board.out.splice(0)) this.line(text);
  }

  pull(lasts_s: number, force_N: (s: number) => number): void {
    for (let reading = 1; reading <= lasts_s * 80; reading++) {
      this.board.read(ZERO_COUNTS + Math.round(COUNTS_PER_N * force_N(reading / 80)) + (reading % 5));
      this.pass(12.5);
    }
  }

  /** A line opened anew, a zero, and a hold to its end: what it came to. */
  async goodSet(): Promise<SetMessage | undefined> {
    if (this.loop.station.set !== null) await this.ask("end", {});
    this.kept.length = 0;
    this.loop.take({ kind: "closed" });
    this.loop.take({ kind: "opened" });
    this.board.out.unshift("");
    this.board.restart({ board: "press-left", boot: "77ab", clock_us: 2_000_000_000 });
    this.pull(8, () => 0);
    const zero = this.ask("zero", {});
    this.pull(4, () => 0);
    expect(await zero).toMatchObject({ ok: true });
    // Frozen for some seconds after a set, and still by then.
    this.pull(20, () => 0);
    expect(await this.ask("begin", { trainee: "otter-14" })).toMatchObject({ ok: true });
    this.pull(9, holdCurve(1000, 3, 250));
    return this.kept[0];
  }
}

describe("a station", () => {
  it(
    "that was hammered with them measures the next set as one that never was",
    async () => {
      const expected = await new Hammered().goodSet();
      expect(expected).toMatchObject({ stop_reason: "hold-below-floor", reached_threshold: true });

      const station = new Hammered();
      const lines = new HostileLines(11);
      station.loop.take({ kind: "opened" });
      station.line("");
      station.board.hello();
      const phases = new Set<string>();
      let before_bytes = 0;
      const began_ms = performance.now();
      for (let line = 1; line <= STATION_LINES; line++) {
        station.line(lines.next());
        if (line % 4 === 0) station.pass(12.5);
        // Answers to what its keys asked for come between lines.
        if (line % 100 === 0) await Promise.resolve();
        if (line % 1000 === 0) phases.add(phaseOf(station.loop.station));
        if (line === Math.floor(STATION_LINES / 5)) before_bytes = heap_bytes();
      }
      const lines_per_s = Math.round(STATION_LINES / ((performance.now() - began_ms) / 1000));
      console.info(
        `station: ${STATION_LINES} hostile lines, ${lines_per_s} a second, ${station.asked} key requests, ${station.published} messages`,
      );
      station.kept.length = 0;
      expect(heap_bytes() - before_bytes).toBeLessThan(GROWTH_BYTES);
      expect(station.asked).toBeGreaterThan(STATION_LINES / 1000);
      expect([...station.faults]).toEqual([]);

      const after = await station.goodSet();
      expect(after).toBeDefined();
      const same = ({
        stop_reason,
        reached_threshold,
        duration_s,
        best_force_N,
        floor_force_N,
        final_force_N,
      }: SetMessage) => ({
        stop_reason,
        reached_threshold,
        duration_s,
        forces_N: [best_force_N, floor_force_N, final_force_N].map((force_N) => Math.round(force_N ?? Number.NaN)),
      });
      expect(same(after as SetMessage)).toEqual(same(expected as SetMessage));
    },
    TIMEOUT_MS,
  );
});

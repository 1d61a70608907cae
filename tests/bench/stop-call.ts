/**
 * From the reading that completes the decision to `state` (finished) at a subscriber, beside a bare forwarder that sees
 * the same line and publishes as much, retained and at QoS 1. The board's time goes as fast as its bytes: a hold of a few
 * seconds is over in some milliseconds, but the deciding reading comes alone, as at a real board.
 */
import { FakeBoard } from "../recorder/station/fake-board.ts";
import { Answers } from "./rig/answers.ts";
import { startBroker, subscribe } from "./rig/broker.ts";
import { type Block, type Pair, Race, ratioOf } from "./rig/race.ts";
import { countsOf, Recorder, topicOf } from "./rig/recorder.ts";
import { Runner } from "./rig/runner.ts";
import { spoken } from "./rig/spoken.ts";
import { onStage, pause, until } from "./rig/stage.ts";
import { startForwarder } from "./rig/start-forwarder.ts";
import { median, quantile, ratio } from "./statistics.ts";

const STATION = "leg-press";
const PERIOD_US = 100_000;
const HELD_N = 800;
/** Below the floor of 640 N that a best of 800 N has at 20 %; its mean over a second crosses it well between two readings. */
const TIRED_N = 615;
/** A force no other reading has, so that the forwarder can tell the deciding one. */
const DECIDING_COUNTS = countsOf(TIRED_N) + 77;
const BUDGET = 1.5;
/** The compiler of the language is still at work during the first. */
const WARM_UP = 60;
const MEDIAN = "stop call to a bare forwarder";
const LATE = "the latest stop calls";

await onStage(async (stage) => {
  const [ptyRecorder, ptyFirst, ptySecond] = stage.ptys;
  if (!ptyRecorder || !ptyFirst || !ptySecond) throw new Error("three lines are needed");
  const broker_port = await startBroker(stage);
  const recorder = new Runner("the recorder", ptyRecorder);
  const first = new Runner("the forwarder", ptyFirst);
  const second = new Runner("the other forwarder", ptySecond);
  const runners = [recorder, first, second];

  let finished = "";
  let kept = 0;
  await subscribe(broker_port, topicOf(STATION, "state"), (payload) => {
    const text = payload.toString();
    if (!text.includes('"stop_reason":"hold-below-floor"')) return;
    finished = text;
    recorder.heard();
  });
  await subscribe(broker_port, topicOf(STATION, "set"), () => {
    kept += 1;
  });
  const forwarding = { broker_port, only: `,${DECIDING_COUNTS}*`, qos: 1, retain: true } as const;
  const forwarders = [
    await startForwarder(stage, { ...forwarding, path: ptyFirst.path, topic: "bench/first" }),
    await startForwarder(stage, { ...forwarding, path: ptySecond.path, topic: "bench/second" }),
  ];
  await subscribe(broker_port, "bench/first", () => first.heard());
  await subscribe(broker_port, "bench/second", () => second.heard());

  const board = new FakeBoard({ board: STATION, rate: 10 });
  const race = new Race(runners, new Answers(board, ptyRecorder));
  const read = (counts: number): string => {
    board.pass(PERIOD_US);
    board.read(counts);
    return spoken(board);
  };
  /** Readings whose only purpose is to lead to the next stop. */
  const lead = (force_N: number, readings: number): void => {
    for (let reading = 0; reading < readings; reading++) {
      const text = read(countsOf(force_N) + Math.round(8 * Math.random() - 4));
      for (const runner of runners) runner.give(text, 0, false);
    }
  };
  const service = new Recorder(stage);
  await service.prepare(broker_port, [{ id: STATION, path: ptyRecorder.path, rate: 10, live_rate_Hz: 10 }]);
  service.start();
  const resting = setInterval(() => lead(0, 1), 20);
  const arm = async (): Promise<void> => {
    await service.begin(STATION, { style: "hold", fatigue_threshold: 0.2 });
  };
  await arm();
  clearInterval(resting);

  /** How many tired readings it takes until the set is over: it is always as many. */
  const toDecide = await decidedAfter();
  for (const forwarder of forwarders) forwarder.send(finished);

  async function decidedAfter(): Promise<number> {
    lead(0, 5);
    lead(HELD_N, 30);
    for (let readings = 1; readings < 60; readings++) {
      recorder.give(read(countsOf(TIRED_N) + (readings % 3)), 0, false);
      await pause(40);
      if (finished === "") continue;
      recorder.forget();
      lead(0, 15);
      return readings;
    }
    throw new Error("no set ended within 6 s of readings below the floor");
  }

  async function stop(pair: Pair): Promise<void> {
    const before = kept;
    await arm();
    lead(0, 5);
    lead(HELD_N, 30);
    lead(TIRED_N, toDecide - 1);
    // Until all of this is read, and the reading that decides comes as to a program at rest.
    await pause(25);
    const others = race.tick(pair, read(DECIDING_COUNTS));
    for (const runner of pair) await runner.settle();
    others();
    await race.settle();
    lead(0, 15);
    await until("the set", () => kept > before);
  }

  for (let stopped = 0; stopped < WARM_UP; stopped++) await stop([recorder, first]);
  const pairs: readonly Pair[] = [
    [recorder, first],
    [second, first],
  ];
  const blocks: Block[] = [];
  const [rounds, each] = stage.quick ? [5, 30] : [10, 100];
  for (let round = 0; round < rounds; round++) {
    for (const pair of pairs) {
      for (const runner of runners) runner.forget();
      for (let stopped = 0; stopped < each; stopped++) await stop(pair);
      blocks.push(await race.block(pair));
    }
  }
  const own = blocks.filter(({ pair }) => pair === pairs[0]);
  const itself = blocks.filter(({ pair }) => pair === pairs[1]);
  const all = (of: readonly Block[], who: "first_ms" | "second_ms"): readonly number[] =>
    of.flatMap((block) => block[who]);
  const p99 = (of: readonly Block[]): number =>
    quantile(all(of, "first_ms"), 0.99) / quantile(all(of, "second_ms"), 0.99);
  const stops = all(own, "first_ms");
  const row = (what: string, measured: number, against: number, ms: number) => ({
    what,
    budget: `${what === MEDIAN ? "median" : "99 %"} < ${BUDGET} x`,
    measured: `${ratio(measured)} (recorder ${ms.toFixed(2)} ms, ${stops.length} stops)`,
    against_itself: ratio(against),
    ok: measured < BUDGET,
  });
  return [
    row(MEDIAN, ratioOf(own), ratioOf(itself), median(stops)),
    row(LATE, p99(own), p99(itself), quantile(stops, 0.99)),
  ];
});

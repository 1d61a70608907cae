/**
 * From the last byte of a reading on the line to its live values at a subscriber, beside a bare forwarder and a flow tool
 * on the same ticks. The board's time goes twice as fast as ours: 50 readings a second, each published, at 10 ms.
 */
import { FakeBoard } from "../recorder/station/fake-board.ts";
import { Answers } from "./rig/answers.ts";
import { startBroker, subscribe } from "./rig/broker.ts";
import { startFlowTool } from "./rig/flow-tool.ts";
import type { Forwarding } from "./rig/forwarder.ts";
import { type Block, type Pair, Race, ratioOf } from "./rig/race.ts";
import { countsOf, Recorder, topicOf } from "./rig/recorder.ts";
import { Runner } from "./rig/runner.ts";
import { spoken } from "./rig/spoken.ts";
import { onStage, pause, until } from "./rig/stage.ts";
import { startForwarder } from "./rig/start-forwarder.ts";
import { type Row, unmeasured } from "./row.ts";
import { median, quantile, ratio } from "./statistics.ts";

const STATION = "leg-press";
const TICK_MS = 10;
const READING_US = 20_000;
const BUDGET = { forwarder: 1.2, flow: 1 };
const TO_FORWARDER = "live path to a bare forwarder";
const TO_FLOW_TOOL = "live path to a flow tool";

await onStage(async (stage) => {
  const [ptyRecorder, ptyFirst, ptySecond, ptyFlow] = stage.ptys;
  if (!ptyRecorder || !ptyFirst || !ptySecond || !ptyFlow) throw new Error("four lines are needed");
  const broker_port = await startBroker(stage);
  const recorder = new Runner("the recorder", ptyRecorder);
  const first = new Runner("the forwarder", ptyFirst);
  const second = new Runner("the other forwarder", ptySecond);
  const flow = new Runner("the flow tool", ptyFlow);
  const flowTopic = "bench/flow";
  const absent = startFlowTool(stage, ptyFlow.path, broker_port, flowTopic);
  const runners = absent === null ? [recorder, first, second, flow] : [recorder, first, second];

  let newest = "";
  await subscribe(broker_port, topicOf(STATION, "live"), (payload) => {
    newest = payload.toString();
    recorder.heard();
  });
  const forwarding = { broker_port, only: null, qos: 0, retain: false } as const;
  const forwarders = [
    await startForwarder(stage, { ...forwarding, path: ptyFirst.path, topic: "bench/first" } satisfies Forwarding),
    await startForwarder(stage, { ...forwarding, path: ptySecond.path, topic: "bench/second" } satisfies Forwarding),
  ];
  await subscribe(broker_port, "bench/first", () => first.heard());
  await subscribe(broker_port, "bench/second", () => second.heard());
  let flowing = absent !== null;
  await subscribe(broker_port, flowTopic, () => {
    flowing = true;
    flow.heard();
  });

  const board = new FakeBoard({ board: STATION, rate: 80 });
  const race = new Race(runners, new Answers(board, ptyRecorder));
  const service = new Recorder(stage);
  await service.prepare(broker_port, [{ id: STATION, path: ptyRecorder.path, rate: 80, live_rate_Hz: 50 }]);
  service.start();

  let pair: Pair = [recorder, first];
  let force_N = 0;
  const reading = (): string => {
    board.pass(READING_US);
    board.read(countsOf(force_N) + Math.round(8 * Math.random() - 4));
    return spoken(board);
  };
  let feeding = feed(race, () => pair, reading);
  await until("the flow tool", () => flowing, 60_000);
  const set_id = await service.begin(STATION, { style: "hold", options: { time_limit_s: 600 } });
  force_N = 800;
  await until("the set", () => newest.includes(set_id) && newest.includes('"phase":"working"'));
  for (const forwarder of forwarders) forwarder.send(newest);
  await pause(2000);

  const pairs: readonly Pair[] = [
    [recorder, first],
    [second, first],
    ...(absent === null ? [[recorder, flow] as const] : []),
  ];
  const blocks: Block[] = [];
  const count = stage.quick ? 3 : 9;
  for (let block = -1; block < count; block++) {
    for (const next of pairs) {
      // Stands still for a moment, so that a block begins and ends with nothing under way.
      await feeding();
      pair = next;
      for (const runner of runners) block < 0 ? runner.forget() : runner.take();
      feeding = feed(race, () => pair, reading);
      await pause(stage.quick ? 2000 : 4000);
      await feeding();
      if (block >= 0) blocks.push(await race.block(pair));
      feeding = feed(race, () => pair, reading);
    }
  }
  await feeding();
  return rows(blocks, pairs, absent);
});

/** Feeds until the function it returns is called; that resolves when the last line has been given to all. */
function feed(race: Race, pair: () => Pair, reading: () => string): () => Promise<void> {
  const ticking = setInterval(() => {
    const toOthers = race.tick(pair(), reading());
    setTimeout(toOthers, TICK_MS / 2);
  }, TICK_MS);
  return () => {
    clearInterval(ticking);
    return pause(5 * TICK_MS);
  };
}

function rows(blocks: readonly Block[], pairs: readonly Pair[], absent: string | null): readonly Row[] {
  const of = (pair: Pair | undefined): readonly Block[] => blocks.filter((block) => block.pair === pair);
  const itself = ratio(ratioOf(of(pairs[1])));
  const row = (what: string, budget: number, own: readonly Block[]): Row => {
    const measured = ratioOf(own);
    const all = own.flatMap(({ first_ms }) => first_ms);
    return {
      what,
      budget: `median < ${budget} x`,
      measured: `${ratio(measured)} (recorder ${median(all).toFixed(2)} ms, 99 % ${quantile(all, 0.99).toFixed(2)} ms)`,
      against_itself: itself,
      ok: measured < budget,
    };
  };
  return [
    row(TO_FORWARDER, BUDGET.forwarder, of(pairs[0])),
    absent === null
      ? row(TO_FLOW_TOOL, BUDGET.flow, of(pairs[2]))
      : unmeasured(TO_FLOW_TOOL, `median < ${BUDGET.flow} x`, absent),
  ];
}

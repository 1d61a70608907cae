/** From starting the process to the first force at a subscriber, with a board that has been sending all the time. */
import { FakeBoard } from "../recorder/station/fake-board.ts";
import { startBroker, subscribe } from "./rig/broker.ts";
import { countsOf, Recorder, topicOf } from "./rig/recorder.ts";
import { spoken } from "./rig/spoken.ts";
import { onStage, pause, until } from "./rig/stage.ts";
import { median } from "./statistics.ts";

const STATION = "leg-press";
const PERIOD_MS = 12.5;
const BUDGET_MS = 1000;

await onStage(async (stage) => {
  const [pty] = stage.ptys;
  if (!pty) throw new Error("a line is needed");
  const broker_port = await startBroker(stage);
  const board = new FakeBoard({ board: STATION });
  pty.onHost((text) => {
    board.hear(text);
    pty.write(spoken(board));
  });
  const began_ms = performance.now();
  let readings = 0;
  setInterval(() => {
    for (; readings * PERIOD_MS <= performance.now() - began_ms; readings++) {
      board.pass(PERIOD_MS * 1000);
      board.read(countsOf(0) + Math.round(8 * Math.random() - 4));
      pty.write(spoken(board));
    }
  }, 1);

  let first_ms: number | null = null;
  await subscribe(broker_port, topicOf(STATION, "live"), (payload) => {
    if (!payload.toString().includes('"force_N":null')) first_ms ??= performance.now();
  });
  const service = new Recorder(stage);
  await service.prepare(broker_port, [{ id: STATION, path: pty.path, rate: 80, live_rate_Hz: 10 }]);
  const taken_ms: number[] = [];
  const starts = stage.quick ? 5 : 15;
  for (let start = 0; start < starts; start++) {
    first_ms = null;
    const started_ms = performance.now();
    service.start();
    await until("the first force", () => first_ms !== null);
    taken_ms.push((first_ms ?? Number.NaN) - started_ms);
    await service.stop();
    await pause(200);
  }
  const half_ms = median(taken_ms);
  return [
    {
      what: "start to first live force",
      budget: `median < ${BUDGET_MS} ms`,
      measured: `${half_ms.toFixed(0)} ms (longest of ${starts}: ${Math.max(...taken_ms).toFixed(0)} ms)`,
      against_itself: "",
      ok: half_ms < BUDGET_MS,
    },
  ];
});

/**
 * Ten years of a busy gym in one store: how long each question takes at the socket, what the file weighs, and what a start on
 * it takes. The recorder is a process of its own; one of its stations has a board, so that a begin is a whole one.
 */
import { statSync } from "node:fs";
import { loadavg } from "node:os";
import { join } from "node:path";
import { FakeBoard } from "../recorder/station/fake-board.ts";
import { numbers } from "../recorder/store/invented.ts";
import { startBroker } from "./rig/broker.ts";
import { countsOf, Recorder } from "./rig/recorder.ts";
import { spoken } from "./rig/spoken.ts";
import { onStage } from "./rig/stage.ts";
import type { Row } from "./row.ts";
import { median } from "./statistics.ts";
import { templates } from "./years/templates.ts";
import { EARLIEST_TRAINEE, REGULARS, STATIONS } from "./years/who.ts";
import { writeYears } from "./years/years.ts";

const BUDGET_MS = 100;
const ASKED = 50;
const PERIOD_MS = 12.5;

await onStage(async (stage) => {
  const [pty] = stage.ptys;
  if (!pty) throw new Error("a line is needed");
  const sets = stage.quick ? 20_000 : 500_000;
  const path = join(stage.folder, "tidemark.db");
  const now_ms = Date.now();
  const began_ms = performance.now();
  writeYears(path, sets, now_ms, templates(3));
  const written_s = (performance.now() - began_ms) / 1000;
  const bytes = statSync(path).size;
  console.log(
    `${sets} sets: ${(bytes / 2 ** 30).toFixed(2)} GiB, ${(bytes / sets / 1024).toFixed(1)} KiB a set; written in ${written_s.toFixed(0)} s`,
  );

  const [first] = STATIONS;
  const board = new FakeBoard({ board: first });
  pty.onHost((text) => {
    board.hear(text);
    pty.write(spoken(board));
  });
  let readings = 0;
  setInterval(() => {
    for (; readings * PERIOD_MS <= performance.now() - began_ms; readings++) {
      board.pass(PERIOD_MS * 1000);
      board.read(countsOf(0) + Math.round(8 * Math.random() - 4));
      pty.write(spoken(board));
    }
  }, 5);
  const service = new Recorder(stage);
  const broker_port = await startBroker(stage);
  const lineOf = (id: string): string => (id === first ? pty.path : join(stage.folder, `no-line-${id}`));
  await service.prepare(
    broker_port,
    STATIONS.map((id) => ({ id, path: lineOf(id), rate: 80, live_rate_Hz: 10 }) as const),
  );
  const started_ms = performance.now();
  service.start();
  await service.ask({ verb: "status" });
  console.log(`from the start to the first answer: ${((performance.now() - started_ms) / 1000).toFixed(2)} s`);
  await service.begin(first, { trainee: REGULARS[0] });

  const next = numbers(17);
  const one = <T>(of: readonly T[]): T => of[Math.floor(next() * of.length)] as T;
  const station = (): string => one(STATIONS);
  const anybody = (): string => `p-${EARLIEST_TRAINEE + Math.floor(400 * next())}`;
  const regular = (): string => one(REGULARS);
  const at = (): string => new Date(now_ms - next() * 3600 * 86_400_000).toISOString();
  const month = (): object => {
    const from_ms = now_ms - next() * 3600 * 86_400_000;
    return { from: new Date(from_ms).toISOString(), to: new Date(from_ms + 30 * 86_400_000).toISOString() };
  };
  const seq = (): number => Math.floor(2 * sets * next());
  const questions: Readonly<Record<string, () => Record<string, unknown>>> = {
    "trend of a regular": () => ({ verb: "trend", station: first, trainee: regular() }),
    "trend of a regular, 1000 days": () => ({ verb: "trend", station: first, trainee: regular(), limit: 1000 }),
    "trend of a regular, up to a day": () => ({ verb: "trend", station: first, trainee: regular(), to: at() }),
    "trend of anybody": () => ({ verb: "trend", station: station(), trainee: anybody() }),
    "sets, the newest": () => ({ verb: "sets" }),
    "sets, 1000 of a number on": () => ({ verb: "sets", from_set_seq: seq(), limit: 1000 }),
    "sets of a station": () => ({ verb: "sets", station: station() }),
    "sets of a station, deep": () => ({ verb: "sets", station: station(), before_set_seq: seq() }),
    "sets of a trainee": () => ({ verb: "sets", trainee: anybody() }),
    "sets of a regular, deep": () => ({ verb: "sets", trainee: regular(), station: first, before_set_seq: seq() }),
    "sets of a regular, no such style": () => ({ verb: "sets", trainee: regular(), style: "rest-pause" }),
    "sets of a station, one side and style": () => ({ verb: "sets", station: station(), side: "left", style: "hold" }),
    "sets of a side, deep": () => ({ verb: "sets", side: "right", before_set_seq: seq() }),
    "sets of an exercise": () => ({ verb: "sets", exercise: station() }),
    "sets of no such exercise": () => ({ verb: "sets", exercise: "none" }),
    "sets of no such exercise of a station": () => ({ verb: "sets", station: station(), exercise: "none" }),
    "sets of a month": () => ({ verb: "sets", ...month() }),
    "sets of a month at a station": () => ({ verb: "sets", station: station(), ...month() }),
    "sets up to a day": () => ({ verb: "sets", to: at() }),
    "sets up to a day of a regular": () => ({ verb: "sets", trainee: regular(), to: at() }),
    "begin of a regular": () => ({ verb: "begin", station: first, trainee: regular(), side: "left" }),
  };
  const rows: Row[] = [];
  for (const [what, question] of Object.entries(questions)) {
    const taken_ms: number[] = [];
    let longest = 0;
    for (let asked = 0; asked < ASKED; asked++) {
      const request = question();
      const asked_ms = performance.now();
      const answer = await service.ask(request);
      taken_ms.push(performance.now() - asked_ms);
      if (answer["ok"] !== true) throw new Error(`${what}: ${JSON.stringify(answer)}`);
      longest = Math.max(longest, JSON.stringify(answer).length);
    }
    const [half_ms, highest_ms] = [median(taken_ms), Math.max(...taken_ms)];
    rows.push({
      what: `${what} (${sets} sets)`,
      budget: `highest <= ${BUDGET_MS} ms`,
      measured: `${half_ms.toFixed(1)} ms, highest of ${ASKED}: ${highest_ms.toFixed(1)} ms, ${(longest / 1024).toFixed(0)} KiB, load ${loadavg()[0]?.toFixed(1)}`,
      against_itself: "",
      ok: highest_ms <= BUDGET_MS,
    });
  }
  await service.stop();
  return rows;
});

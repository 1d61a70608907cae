/**
 * Sixty-four stations at 80 readings a second in one process, in a gym that trains all day, beside a bare reader of the same
 * lines on the same ticks: processor time, how late the event loop gets, and whether memory grows.
 */
import type { ChildProcess } from "node:child_process";
import { fileURLToPath } from "node:url";
import { startBroker, subscribe } from "./rig/broker.ts";
import { openGym, ROUND_S } from "./rig/gym.ts";
import { lateness_ms, linesRead, used, watchLoop } from "./rig/probed.ts";
import type { Pty } from "./rig/pty.ts";
import { Recorder } from "./rig/recorder.ts";
import { onStage, pause, type Stage } from "./rig/stage.ts";
import type { Row } from "./row.ts";
import { median, ratio } from "./statistics.ts";

const STATIONS = 64;
const READER = fileURLToPath(new URL("./rig/reader.js", import.meta.url));
const PROBE = new URL("./rig/probe.js", import.meta.url).href;
const BUDGET = { cpu: 2, late_ms: 12.5, growth_MB: 5 };
const MB = 1e6;
const nameOf = (index: number): string => `station-${index + 1}`;
const RSS_LOOKS = 30;
const WARM_UP_MS = 15_000;

interface Plan {
  readonly blocks: number;
  readonly block_ms: number;
  readonly watch_ms: number;
  /** Memory is compared at these, since the recorder's start. */
  readonly from_ms: number;
  readonly to_ms: number;
}

const FULL: Plan = { blocks: 9, block_ms: 8000, watch_ms: 60_000, from_ms: 120_000, to_ms: 720_000 };
const QUICK: Plan = { blocks: 5, block_ms: 4000, watch_ms: 15_000, from_ms: 60_000, to_ms: 120_000 };

await onStage(async (stage) => {
  const plan = stage.quick ? QUICK : FULL;
  const own = stage.ptys.slice(0, STATIONS);
  const bare = stage.ptys.slice(STATIONS, 2 * STATIONS);
  const broker_port = await startBroker(stage);
  openGym(own.map((line, index) => ({ name: nameOf(index), lines: [line, bare[index] as Pty] })));

  const reader = startReader(stage, bare);
  const other = startReader(stage, own);
  await pause(3000);
  const itself = await cpuRatio(other, reader, plan);
  await stage.end(other);

  const reasons = new Map<string, number>();
  await subscribe(broker_port, "tidemark/+/station/+/set", (payload) => {
    const { stop_reason } = JSON.parse(payload.toString()) as { stop_reason: string };
    reasons.set(stop_reason, (reasons.get(stop_reason) ?? 0) + 1);
  });
  const service = new Recorder(stage);
  const stations = own.map(({ path }, index) => ({ id: nameOf(index), path, rate: 80, live_rate_Hz: 10 }) as const);
  await service.prepare(broker_port, stations);
  const recorder = service.start(true);
  const began_ms = performance.now();
  const at = (moment_ms: number): Promise<void> => pause(moment_ms - (performance.now() - began_ms));
  const grown = Promise.all([
    at(plan.from_ms).then(() => rss_MB(recorder)),
    at(plan.to_ms).then(() => rss_MB(recorder)),
  ]);

  await pause(WARM_UP_MS);
  // Until the recorder reads them, its lines run full.
  const lostBefore = lostOf(stage.ptys);
  const read = await linesRead(reader);
  const counted_ms = performance.now();
  const cpu = await cpuRatio(recorder, reader, plan);
  const lines_per_s = ((await linesRead(reader)) - read) / ((performance.now() - counted_ms) / 1000);
  watchLoop(recorder);
  await pause(plan.watch_ms);
  const late_ms = await lateness_ms(recorder);
  const [before_MB, after_MB] = await grown;

  const lost = lostOf(stage.ptys) - lostBefore;
  if (lost > 0) throw new Error(`${lost} lines were lost on the way: the machine is too slow for this bench`);
  const stops = reasons.get("effort-below-floor") ?? 0;
  const told = [...reasons].map(([reason, count]) => `${count} ${reason}`).join(", ");
  const least = Math.floor((plan.to_ms / 1000 / ROUND_S - 2) * STATIONS);
  if (stops < least) throw new Error(`the gym did not train: ${told || "no set"}, at least ${least} stops are due`);
  const minutes = (moment_ms: number): number => moment_ms / 60_000;
  return [
    {
      what: `${STATIONS} stations, processor time to a bare reader`,
      budget: `<= ${BUDGET.cpu} x`,
      measured: `${ratio(cpu.ratio)} (${cpu.share.toFixed(2)} of a core, ${Math.round(lines_per_s)} lines/s, ${stops} sets stopped)`,
      against_itself: ratio(itself.ratio),
      ok: cpu.ratio <= BUDGET.cpu,
    },
    {
      what: `${STATIONS} stations, event loop, 99 %`,
      budget: `< ${BUDGET.late_ms} ms`,
      measured: `${late_ms.toFixed(1)} ms`,
      against_itself: "",
      ok: late_ms < BUDGET.late_ms,
    },
    {
      what: `${STATIONS} stations, memory, minute ${minutes(plan.from_ms)} to ${minutes(plan.to_ms)}`,
      budget: `< ${BUDGET.growth_MB} MB`,
      measured: `${(after_MB - before_MB).toFixed(1)} MB (${before_MB.toFixed(0)} to ${after_MB.toFixed(0)} MB resident)`,
      against_itself: "",
      ok: after_MB - before_MB < BUDGET.growth_MB,
    },
  ] satisfies readonly Row[];
});

function lostOf(ptys: readonly Pty[]): number {
  return ptys.reduce((sum, { lost }) => sum + lost, 0);
}

function startReader(stage: Stage, ptys: readonly Pty[]): ChildProcess {
  return stage.start(process.execPath, ["--import", PROBE, READER, ...ptys.map(({ path }) => path)], { talks: true });
}

/** Processor time of one beside the other's, over the same stretches: the median of the ratios, and its share of a core. */
async function cpuRatio(
  one: ChildProcess,
  other: ChildProcess,
  plan: Plan,
): Promise<{ readonly ratio: number; readonly share: number }> {
  const ratios: number[] = [];
  const shares: number[] = [];
  for (let block = 0; block < plan.blocks; block++) {
    const began_ms = performance.now();
    const before = await Promise.all([used(one), used(other)]);
    await pause(plan.block_ms);
    const after = await Promise.all([used(one), used(other)]);
    const own_us = after[0].cpu_us - before[0].cpu_us;
    ratios.push(own_us / (after[1].cpu_us - before[1].cpu_us));
    shares.push(own_us / 1000 / (performance.now() - began_ms));
  }
  return { ratio: median(ratios), share: median(shares) };
}

/** Resident memory around now: the median of half a minute, since a collection may be just due or just done. */
async function rss_MB(child: ChildProcess): Promise<number> {
  const looks: number[] = [];
  for (let look = 0; look < RSS_LOOKS; look++) {
    looks.push((await used(child)).rss_bytes / MB);
    await pause(1000);
  }
  return median(looks);
}

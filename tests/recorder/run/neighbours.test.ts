/**
 * Many stations in one process, each with a real link and its real clock over a port in memory: one in flood, three kinds of
 * it, one dead, one mute, one lying, one that starts anew every second. The one that is well must not notice: its set is, bit
 * for bit, what the same lines give alone and without any clock, and its live values come as they should.
 */
import { monitorEventLoopDelay } from "node:perf_hooks";
import { expect, it, onTestFinished } from "vitest";
import { linkOf } from "../../../recorder/run/station-link.ts";
import type { Link } from "../../../recorder/serial/link.ts";
import type { StationInput } from "../../../recorder/station/exchange.ts";
import { boardHomes } from "../../../recorder/station/state.ts";
import { HostileLines } from "../../protocol/serial-line/hostile-lines.ts";
import { FakePort } from "../serial/fake-port.ts";
import { stationConfiguration, ZERO_COUNTS } from "../station/bench.ts";
import { FakeBoard } from "../station/fake-board.ts";
import { countsAt, PERIOD_US, RATE_HZ, setOf, type Timed, timedStation } from "./timed-hold.ts";

const LIVE_RATE_HZ = 10;
/** The set and its begin, and a little more. */
const LASTS_READINGS = 800;

const NAMES = ["well", "garbage", "lines", "ends", "dead", "mute", "lying", "restarting"] as const;
const configurationOf = (id: string) =>
  stationConfiguration({
    id,
    board: `board-${id}`,
    serial_port: `/dev/${id}`,
    style: "hold",
    live_rate_Hz: LIVE_RATE_HZ,
  });
const HOMES = boardHomes(NAMES.map(configurationOf));

interface Told extends Timed {
  readonly live_at_ms: number[];
  readonly troubles: string[];
  readonly forces_N: unknown[];
}

function station(id: string, write: (text: string) => void): Told {
  const [live_at_ms, troubles, forces_N]: [number[], string[], unknown[]] = [[], [], []];
  const live = (body: Readonly<Record<string, unknown>>): void => {
    live_at_ms.push(performance.now());
    forces_N.push(body["force_N"]);
  };
  const board = `board-${id}`;
  const arms = id === "well";
  const timed = timedStation({ configuration: configurationOf(id), board, homes: HOMES, arms, write, live });
  const take = (input: StationInput): void => {
    timed.take(input);
    if (input.kind === "trouble" && input.sentence !== null) troubles.push(input.sentence);
  };
  return { kept: timed.kept, take, live_at_ms, troubles, forces_N };
}

class Gym {
  readonly told = new Map<string, Told>();
  readonly links = new Map<string, Link>();
  readonly ports = new Map<string, FakePort>();

  constructor(names: readonly string[]) {
    for (const name of names) {
      const told = station(name, (text) => this.links.get(name)?.write(text));
      this.told.set(name, told);
      this.links.set(
        name,
        linkOf(told, `/dev/${name}`, (path) => this.#open(name, path)),
      );
    }
  }

  /** Bytes for a port that is open and read: none are left waiting in it. */
  feed(name: string, bytes: string): void {
    const port = this.ports.get(name);
    if (port !== undefined && !port.destroyed && port.readableFlowing === true && port.readableLength < 4096)
      port.say(bytes);
  }

  of(name: string): Told {
    return this.told.get(name) as Told;
  }

  async close(): Promise<void> {
    await Promise.all([...this.links.values()].map((link) => link.close()));
  }

  #open(name: string, path: string): Promise<FakePort> {
    if (name === "dead") return Promise.reject(new Error(`${path} is not there: plug the board in; retrying.`));
    const port = new FakePort();
    this.ports.set(name, port);
    return Promise.resolve(port);
  }
}

/** A driver with always more to give: twice what n_tty keeps, every millisecond in which somebody reads. */
function flood(gym: Gym, name: string, chunk: string): () => void {
  const feeding = setInterval(() => {
    for (let times = 0; times < 2; times++) gym.feed(name, chunk);
  }, 1);
  return () => clearInterval(feeding);
}

it("stations in flood, dead, mute, lying and restarting leave the one that is well as it was alone", async () => {
  const expected = setOf((write) => station("well", write), "board-well");
  expect(expected).toMatchObject({ stop_reason: "hold-below-floor", reached_threshold: true });

  const gym = new Gym(NAMES);
  const well = new FakeBoard({ board: "board-well" });
  const restarting = new FakeBoard({ board: "board-restarting" });
  const quick = new FakeBoard({ board: "board-lines" });
  const lies = new HostileLines(5);
  well.out.push("");
  restarting.out.push("");
  quick.hello();
  for (let line = 0; line < 180; line++) {
    quick.pass(PERIOD_US);
    quick.read(ZERO_COUNTS + (line % 5));
  }
  const stops = [
    flood(gym, "garbage", "x".repeat(4096)),
    flood(gym, "lines", `${quick.out.join("\n")}\n`),
    flood(gym, "ends", "\n".repeat(4096)),
  ];
  onTestFinished(async () => {
    for (const stop of stops) stop();
    await gym.close();
  });

  const delay = monitorEventLoopDelay({ resolution: 1 });
  let used = process.cpuUsage();
  let used_from_ms = 0;
  let reading = 0;
  let heard = 0;
  let lied = 0;
  let began_ms = performance.now();
  await new Promise<void>((resolve) => {
    const pump = setInterval(() => {
      const heardNow = gym.ports.get("well")?.heard ?? "";
      well.hear(heardNow.slice(heard));
      heard = heardNow.length;
      const due = ((performance.now() - began_ms) / 1000) * RATE_HZ;
      while (reading < due) {
        well.pass(PERIOD_US);
        restarting.pass(PERIOD_US);
        reading += 1;
        well.read(countsAt(reading));
        restarting.read(ZERO_COUNTS + (reading % 5));
        if (reading % RATE_HZ === 0) restarting.restart({ boot: (0x1000 + reading).toString(16) });
        for (; lied < reading * 4; lied++) gym.feed("lying", `${lies.next()}\n`);
        // Everything is under way, and what a flood may have at once is used up.
        if (reading !== RATE_HZ) continue;
        delay.enable();
        used = process.cpuUsage();
        used_from_ms = performance.now();
      }
      gym.feed(
        "well",
        well.out
          .splice(0)
          .map((text) => `${text}\n`)
          .join(""),
      );
      gym.feed(
        "restarting",
        restarting.out
          .splice(0)
          .map((text) => `${text}\n`)
          .join(""),
      );
      for (const told of gym.told.values()) told.take({ kind: "tick" });
      if (reading < LASTS_READINGS) return;
      clearInterval(pump);
      resolve();
    }, 5);
    began_ms = performance.now();
  });
  delay.disable();
  used = process.cpuUsage(used);
  const cpu_share = (used.user + used.system) / 1000 / (performance.now() - used_from_ms);

  const { kept, live_at_ms, troubles } = gym.of("well");
  expect(kept).toEqual([expected]);
  expect(troubles).toEqual([]);
  const gaps_ms = live_at_ms.slice(1).map((at_ms, index) => at_ms - (live_at_ms[index] as number));
  expect(live_at_ms.length).toBeGreaterThan(0.95 * LIVE_RATE_HZ * (LASTS_READINGS / RATE_HZ));
  const [p99_ms, most_ms] = [delay.percentile(99), delay.max].map((delay_ns) => (delay_ns / 1e6).toFixed(1));
  console.info(
    `well beside seven: ${live_at_ms.length} live messages, at most ${Math.max(...gaps_ms).toFixed(0)} ms apart; ` +
      `event-loop delay p99 ${p99_ms} ms, most ${most_ms} ms; ${(100 * cpu_share).toFixed(0)} % of a core`,
  );
  // Three floods that had all they want would take the whole of it. The delay is told and not judged: on a busy machine it
  // is the machine's, while nobody computes more for being made to wait.
  expect(cpu_share).toBeLessThan(0.5);

  for (const name of ["garbage", "lines", "ends"])
    expect(gym.of(name).troubles.at(-1)).toMatch(/far more than a board/);
  expect(gym.of("dead").troubles).toEqual([expect.stringMatching(/is not there/)]);
  expect(gym.of("mute").troubles).toEqual([expect.stringMatching(/nothing has come/)]);
  for (const name of NAMES.slice(1)) expect(gym.of(name).kept).toEqual([]);
  for (const name of ["garbage", "ends", "dead", "mute", "lying"]) {
    expect(
      gym.of(name).forces_N.filter((force_N) => force_N !== null),
      name,
    ).toEqual([]);
  }
}, 30_000);

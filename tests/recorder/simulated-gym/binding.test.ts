import { once } from "node:events";
import type { SerialPortStream } from "@serialport/stream";
import { afterEach, describe, expect, it } from "vitest";
import { decodeDeviceLine } from "../../../protocol/serial-line/decode.ts";
import { encodeHostLine } from "../../../protocol/serial-line/encode.ts";
import type { DeviceLine } from "../../../protocol/serial-line/lines.ts";
import { openSimulatedPort, simulatedBinding } from "../../../recorder/simulated-gym/binding.ts";
import { directGym } from "../../../recorder/simulated-gym/direct.ts";
import { JOINT_REGIONS } from "../../../recorder/simulated-gym/fatigue.ts";
import { RunningStation, SimulatedGym } from "../../../recorder/simulated-gym/gym.ts";
import { type Clock, flatOut, realTime } from "../../../recorder/simulated-gym/pace.ts";
import { gymConfiguration, plansOf, stationsOf } from "../../../recorder/simulated-gym/scenario.ts";
import { trainee } from "../../../recorder/simulated-gym/trainees.ts";

const SEED = 21;
const configuration = gymConfiguration({ store: "x.db", socket: "a.sock", service_socket: "b.sock", port: 0 });
const MODELS = stationsOf(configuration, SEED);
const HOLDER = trainee("wren-1", 500, JOINT_REGIONS.knee, { style: "hold" });
const PATH = "simulated:knee-extension";

const opened: SerialPortStream[] = [];
afterEach(async () => {
  await Promise.all(opened.splice(0).map(closed));
});

async function closed(port: SerialPortStream): Promise<void> {
  if (!port.isOpen) return;
  port.close();
  await once(port, "close");
}

async function open(gym: SimulatedGym, path: string, pace = flatOut()): Promise<SerialPortStream> {
  const port = await openSimulatedPort(gym, pace)(path);
  opened.push(port);
  return port;
}

/** Calls back with each line of the port, and with its text. */
function onLines(port: SerialPortStream, take: (line: DeviceLine, text: string) => void): void {
  let rest = "";
  port.on("data", (bytes: Buffer) => {
    const pieces = (rest + bytes.toString("latin1")).split("\n");
    rest = pieces.pop()!;
    for (const text of pieces) {
      if (text === "") continue;
      const line = decodeDeviceLine(text);
      if (line.kind === "rejected") throw new Error(`${line.reject}: ${text}`);
      take(line, text);
    }
  });
}

/** The next line that `fits`. */
function lineOf<K extends DeviceLine["kind"]>(port: SerialPortStream, kind: K): Promise<DeviceLine & { kind: K }> {
  return new Promise((resolve) => {
    onLines(port, (line) => {
      if (line.kind === kind) resolve(line as DeviceLine & { kind: K });
    });
  });
}

async function bytesOf(port: SerialPortStream, count: number): Promise<string> {
  let text = "";
  for await (const bytes of port) {
    text += (bytes as Buffer).toString("latin1");
    if (text.length >= count) break;
  }
  return text.slice(0, count);
}

const write = (port: SerialPortStream, ...lines: Parameters<typeof encodeHostLine>[0][]): void => {
  for (const line of lines) port.write(`${encodeHostLine(line)}\n`);
};

describe("a port to a simulated station", () => {
  it("opens, says hello, is written to, answers, closes and opens again", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const port = await open(gym, PATH);
    expect((await lineOf(port, "hello")).board).toBe("knee-1");
    const answer = lineOf(port, "answer");
    write(port, { kind: "identify", command: 7 });
    expect(await answer).toMatchObject({ command: 7, error: null });
    await closed(port);
    expect(port.isOpen).toBe(false);
    const again = await open(gym, PATH);
    expect((await lineOf(again, "reading")).seq).toBeGreaterThan(2);
  });

  it("delivers flat out the very bytes of the board, nothing added and nothing lost", async () => {
    const port = await open(new SimulatedGym(MODELS, SEED), PATH);
    const bytes = await bytesOf(port, 200_000);
    const bench = new SimulatedGym(MODELS, SEED).station("knee-extension");
    bench.run(120e6);
    expect(bytes).toBe(bench.take().slice(0, 200_000));
  });

  it("can be read in pieces as small as the reader likes", async () => {
    const binding = simulatedBinding(new SimulatedGym(MODELS, SEED), flatOut());
    const port = await binding.open({ path: PATH, baudRate: 115_200 });
    const buffer = Buffer.alloc(8);
    let text = "";
    for (let read = 0; read < 2000; read++) {
      const { bytesRead } = await port.read(buffer, 1, 1 + (read % 5));
      text += buffer.toString("latin1", 1, 1 + bytesRead);
    }
    await port.close();
    const bench = new SimulatedGym(MODELS, SEED).station("knee-extension");
    bench.run(60e6);
    expect(bench.take().startsWith(text)).toBe(true);
    expect(text.length).toBeGreaterThan(4000);
  });

  it("does not move while nobody reads", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const port = await open(gym, PATH);
    await lineOf(port, "reading");
    port.pause();
    // The stream reads ahead up to its high-water mark, and no further.
    let before = -1;
    while (before !== gym.station("knee-extension").now_us) {
      before = gym.station("knee-extension").now_us;
      for (let turn = 0; turn < 50; turn++) await new Promise(setImmediate);
    }
    expect(before).toBeGreaterThan(0);
    expect(before).toBeLessThan(60e6);
  });

  it("refuses a path that is nobody's, and a station that is already open", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    await expect(open(gym, "simulated:nowhere")).rejects.toThrow("no such simulated station");
    await open(gym, PATH);
    await expect(open(gym, PATH)).rejects.toThrow("busy");
    expect((await simulatedBinding(gym, flatOut()).list()).map(({ path }) => path)).toEqual([
      "simulated:leg-press",
      PATH,
      "simulated:pull-down",
    ]);
  });

  it("closes by itself when it is unplugged, stays away, and comes back with a new boot", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const port = await open(gym, PATH);
    const hello = await lineOf(port, "hello");
    const gone = once(port, "close");
    gym.station("knee-extension").unplug();
    const [why] = await gone;
    expect(why).toMatchObject({ disconnected: true });
    await expect(open(gym, PATH)).rejects.toThrow("nothing is plugged in");
    gym.station("knee-extension").plug();
    const back = await lineOf(await open(gym, PATH), "hello");
    expect(back.boot).not.toBe(hello.boot);
    expect(back.seq).toBe(0);
  });

  it("comes through being unplugged and plugged a hundred times", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const station = gym.station("knee-extension");
    for (let round = 0; round < 100; round++) {
      const port = await open(gym, PATH);
      await lineOf(port, "reading");
      const gone = once(port, "close");
      station.unplug();
      await gone;
      station.plug();
    }
    expect((await lineOf(await open(gym, PATH), "hello")).seq).toBe(0);
  });
});

describe("flat out", () => {
  it("lets a stop be heard within 50 ms of device time, and the trainee lets go", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const station = gym.station("knee-extension");
    station.sit(HOLDER);
    const port = await open(gym, PATH);
    let asked_us = 0;
    const heard_us = new Promise<number>((resolve) => {
      let count = 0;
      onLines(port, (line) => {
        if (line.kind === "answer" && line.command === 9) resolve(line.t_us);
        if (line.kind !== "reading") return;
        count += 1;
        if (count % 80 === 1 && asked_us === 0) write(port, { kind: "lamp", command: 8, lamp: 1, to: "on" });
        if (count !== 1200) return;
        asked_us = line.t_us;
        write(port, { kind: "lamp", command: 9, lamp: 2, to: "on" }, { kind: "lamp", command: 10, lamp: 1, to: "off" });
      });
    });
    expect((await heard_us) - asked_us).toBeLessThanOrEqual(50_000);
    while (station.elapsed_s < asked_us / 1e6 + 2) await once(port, "data");
    const { set, handle_N } = station.truth!;
    expect(set!.called_s! - asked_us / 1e6).toBeLessThan(0.08);
    expect(set!.loss_when_called).toBeGreaterThan(0.1);
    expect(handle_N).toBeLessThan(10);
  });

  it("keeps its stations together in time and runs three of them for less than a fortieth of their time", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const before = process.cpuUsage();
    const ports = await Promise.all(MODELS.map(({ id }) => open(gym, `simulated:${id}`)));
    let apart_s = 0;
    for (const port of ports) {
      port.on("data", () => {
        const times = gym.stations.map(({ elapsed_s }) => elapsed_s);
        apart_s = Math.max(apart_s, Math.max(...times) - Math.min(...times));
      });
    }
    while (gym.stations.some(({ elapsed_s }) => elapsed_s < 120)) await once(ports[0]!, "data");
    // Processor time, because what else the machine does is not the gym's.
    const { user, system } = process.cpuUsage(before);
    expect(apart_s).toBeLessThan(0.2);
    expect(120 / ((user + system) / 1e6)).toBeGreaterThan(40);
  });
});

/** A clock that only moves while somebody sleeps on it, or is told to. */
class HandClock implements Clock {
  now = 1000;
  slept_ms = 0;
  now_ms(): number {
    return this.now;
  }
  async sleep(for_ms: number, signal: AbortSignal): Promise<void> {
    await new Promise(setImmediate);
    if (signal.aborted) throw signal.reason;
    this.now += for_ms;
    this.slept_ms += for_ms;
  }
}

describe("in real time", () => {
  it("hands out what is due and no more: 30 s of it in 30 s", async () => {
    const clock = new HandClock();
    const gym = new SimulatedGym(MODELS, SEED);
    const station = gym.station("knee-extension");
    const port = await open(gym, PATH, realTime(clock));
    while (station.elapsed_s < 30) {
      await once(port, "data");
      expect(station.elapsed_s).toBeLessThanOrEqual((clock.now - 1000) / 1000 + 0.001);
    }
    expect(clock.slept_ms / 1000).toBeLessThan(30.1);
  });

  it("at 10 conversions a second as well", async () => {
    const clock = new HandClock();
    const gym = new SimulatedGym(MODELS, SEED);
    const station = gym.station("knee-extension");
    const port = await open(gym, PATH, realTime(clock));
    write(port, { kind: "rate", command: 1, rate: 10 });
    port.resume();
    while (station.elapsed_s < 20) await once(port, "data");
    expect(clock.slept_ms / 1000).toBeLessThan(20.3);
  });

  it("catches up after a stall of the reader, without a gap", async () => {
    const clock = new HandClock();
    const gym = new SimulatedGym(MODELS, SEED);
    const station = gym.station("knee-extension");
    const port = await open(gym, PATH, realTime(clock));
    const seqs: number[] = [];
    onLines(port, ({ seq }) => seqs.push(seq));
    await once(port, "data");
    clock.now += 700;
    const stalled_s = (clock.now - 1000) / 1000;
    while (station.elapsed_s < stalled_s - 0.02) await once(port, "data");
    expect(seqs).toEqual(seqs.map((_, index) => index));
  });

  it("stands still with a computer that slept for an hour", async () => {
    const clock = new HandClock();
    const gym = new SimulatedGym(MODELS, SEED);
    const station = gym.station("knee-extension");
    const port = await open(gym, PATH, realTime(clock));
    await once(port, "data");
    clock.now += 3_600_000;
    await once(port, "data");
    const behind_s = (clock.now - 1000) / 1000 - station.elapsed_s;
    expect(behind_s).toBeGreaterThan(3500);
    // 5 s are caught up with, the rest of these 10 s takes its time.
    while (station.elapsed_s < 10) await once(port, "data");
    expect(clock.slept_ms).toBeGreaterThan(4500);
  });

  it("goes on while nobody listens: what was said then is lost, and seq tells how much", async () => {
    const clock = new HandClock();
    const gym = new SimulatedGym(MODELS, SEED);
    const pace = realTime(clock);
    const port = await open(gym, PATH, pace);
    const before = await lineOf(port, "reading");
    await closed(port);
    clock.now += 2000;
    const after = await lineOf(await open(gym, PATH, pace), "reading");
    const period_us = 1e6 / (80 * (1 + MODELS[1]!.rate_error));
    expect(after.t_us - before.t_us).toBeGreaterThan(1_900_000);
    expect(Math.abs(after.seq - before.seq - (after.t_us - before.t_us) / period_us)).toBeLessThan(0.1);
  });

  it("runs by the computer's clock where none is given", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const started_ms = performance.now();
    const port = await open(gym, PATH, realTime());
    while (gym.station("knee-extension").elapsed_s < 0.25) await once(port, "data");
    expect(performance.now() - started_ms).toBeGreaterThanOrEqual(249);
  });
});

describe("the gym as a whole", () => {
  it("is directed through a set at each station by lamps alone, and closes", async () => {
    const gym = new SimulatedGym(MODELS, SEED);
    const begun: string[] = [];
    const shut: string[] = [];
    const tell = directGym(gym, plansOf(configuration, 1), {
      begin: ({ station, trainee }) => {
        begun.push(`${station} ${trainee}`);
        write(ports.get(station)!, { kind: "lamp", command: 1, lamp: 1, to: "on" });
        began_s.set(station, gym.station(station).elapsed_s);
        tell(station, "armed");
      },
      closed: (station) => shut.push(station),
    });
    const ports = new Map<string, SerialPortStream>();
    const began_s = new Map<string, number>();
    for (const { id } of MODELS) {
      const port = await open(gym, `simulated:${id}`);
      ports.set(id, port);
      // A host that knows no better: it stops everybody 20 s after it began.
      port.on("data", () => {
        const since_s = gym.station(id).elapsed_s - (began_s.get(id) ?? Number.POSITIVE_INFINITY);
        if (since_s < 20) return;
        began_s.delete(id);
        write(port, { kind: "lamp", command: 2, lamp: 2, to: "on" }, { kind: "lamp", command: 3, lamp: 1, to: "off" });
        tell(id, "finished");
      });
    }
    while (shut.length < 3) await once(ports.get("leg-press")!, "data");
    expect(begun.toSorted()).toEqual(["knee-extension wren-21", "leg-press otter-14", "pull-down ibex-03"]);
    expect(shut.toSorted()).toEqual(["knee-extension", "leg-press", "pull-down"]);
    for (const station of gym.stations) {
      const { set } = station.truth!;
      expect(set!.loss_when_called).toBeGreaterThan(0.05);
      expect(set!.rounds).toBeGreaterThanOrEqual(1);
    }
  });

  it("has no other stations", () => {
    const gym = new SimulatedGym(MODELS, SEED);
    expect(() => gym.station("nowhere")).toThrow('no station "nowhere"');
    expect(gym.stations.every((station) => station instanceof RunningStation)).toBe(true);
  });
});

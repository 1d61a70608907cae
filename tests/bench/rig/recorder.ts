/** The built recorder as a process of its own, with calibrated stations, and a way to ask it for a set. */
import type { ChildProcess } from "node:child_process";
import { randomUUID } from "node:crypto";
import { once } from "node:events";
import { existsSync, writeFileSync } from "node:fs";
import { connect, type Socket } from "node:net";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import type { CalibrationRecord } from "../../../calibration/record.ts";
import { openStore } from "../../../recorder/store/store.ts";
import { pause, type Stage, until } from "./stage.ts";

const MAIN = fileURLToPath(new URL("../../../recorder/main.js", import.meta.url));
const PROBE = new URL("./probe.js", import.meta.url).href;
export const SITE = "paper-hall";
export const COUNTS_PER_N = 400;
const ZERO_COUNTS = 12_000;

export const countsOf = (force_N: number): number => Math.round(ZERO_COUNTS + force_N * COUNTS_PER_N);
export const topicOf = (station: string, topic: string): string => `tidemark/${SITE}/station/${station}/${topic}`;

export interface StationSetup {
  /** Also its board's name. */
  readonly id: string;
  readonly path: string;
  readonly rate: 10 | 80;
  readonly live_rate_Hz: number;
}

export class Recorder {
  readonly #stage: Stage;
  readonly #configuration: string;
  readonly #socket: string;
  #child: ChildProcess | null = null;
  #door: Socket | null = null;
  readonly #waiting: ((answer: Record<string, unknown>) => void)[] = [];

  constructor(stage: Stage) {
    this.#stage = stage;
    this.#configuration = join(stage.folder, "tidemark.toml");
    this.#socket = join(stage.folder, "control", "c.sock");
  }

  async prepare(broker_port: number, stations: readonly StationSetup[]): Promise<void> {
    const path = join(this.#stage.folder, "tidemark.db");
    const store = await openStore({ path });
    for (const { id } of stations) await store.saveCalibration(calibrationOf(id));
    await store.close();
    const parts = [
      `site = "${SITE}"\nrecorder = "paper-box"`,
      `[broker]\nurl = "mqtt://127.0.0.1:${broker_port}"`,
      `[store]\npath = "${path}"`,
      `[control]\nsocket = "${this.#socket}"\nservice_socket = "${join(this.#stage.folder, "control", "s.sock")}"`,
      ...stations.map(stationText),
    ];
    writeFileSync(this.#configuration, `${parts.join("\n")}\n`);
  }

  /** `probed`: it answers to a Probed, and costs a little more for it. */
  start(probed = false): ChildProcess {
    const probe = probed ? ["--import", PROBE] : [];
    this.#child = this.#stage.start(process.execPath, [...probe, MAIN, "run", "--config", this.#configuration], {
      talks: probed,
    });
    return this.#child;
  }

  async stop(): Promise<void> {
    this.#door?.destroy();
    this.#door = null;
    if (this.#child !== null) await this.#stage.end(this.#child);
  }

  /** One request by the control socket; its answer. */
  async ask(request: Record<string, unknown>): Promise<Record<string, unknown>> {
    this.#door ??= await this.#knock();
    const answered = new Promise<Record<string, unknown>>((resolve) => this.#waiting.push(resolve));
    this.#door.write(`${JSON.stringify({ ...request, request_id: randomUUID() })}\n`);
    return answered;
  }

  /** Until it is let: a rate is known two seconds of readings after the start. */
  async begin(station: string, args: Record<string, unknown>): Promise<string> {
    for (let tried = 0; ; tried++) {
      const { ok, result, error } = await this.ask({ verb: "begin", station, ...args });
      if (ok === true) return (result as { set_id: string }).set_id;
      if (tried === 200) throw new Error(`no begin: ${JSON.stringify(error)}`);
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
  }

  async #knock(): Promise<Socket> {
    await until("the recorder's socket", () => existsSync(this.#socket));
    const door = await this.#connected();
    createInterface(door).on("line", (line) => this.#waiting.shift()?.(JSON.parse(line)));
    return door;
  }

  /** The file is there a moment before anybody listens. */
  async #connected(): Promise<Socket> {
    for (let tried = 0; ; tried++) {
      const door = connect(this.#socket);
      try {
        await once(door, "connect");
        return door;
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== "ECONNREFUSED" || tried === 200) throw error;
        await pause(10);
      }
    }
  }
}

const stationText = ({ id, path, rate, live_rate_Hz }: StationSetup): string => `
[[station]]
id = "${id}"
exercise = "leg-press"
serial_port = "${path}"
board = "${id}"
rate = ${rate}
resistance = "driven"
cell_capacity_N = 5000
force_limit_N = 4000
working_force_N = 2500
latitude_deg = 52.0
live_rate_Hz = ${live_rate_Hz}`;

function calibrationOf(station: string): CalibrationRecord {
  const point = { mass_kg: null, standard_error_counts: 0.5, noise_counts: 4, readings: 240 };
  return {
    record_version: 1,
    calibration_id: randomUUID(),
    station,
    at: new Date().toISOString(),
    performed_by: null,
    zero_counts: ZERO_COUNTS,
    counts_per_N: COUNTS_PER_N,
    points: [
      { ...point, force_N: 0, mean_counts: ZERO_COUNTS },
      { ...point, force_N: 1000, mean_counts: countsOf(1000) },
    ],
    working_force_N: 2500,
    cell_capacity_N: 5000,
    expanded_uncertainty_N: 6,
    budget: [{ source: "load tolerance", standard_uncertainty_N: 3 }],
    board: station,
    amplifier: "hx711",
    gain: 128,
    due: null,
    note: null,
  };
}

/**
 * One station of the simulated gym on a real tty, with the built recorder at it, for somebody who calibrates: what hangs on
 * the grip changes when the test says so, and the board's time runs many times faster than the clock on the wall.
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Verb } from "../../protocol/requests/verbs.ts";
import { ask, type Reply } from "../../recorder/cli/client.ts";
import { JOINT_REGIONS } from "../../recorder/simulated-gym/fatigue.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { gymConfiguration, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import type { SimulatedStation } from "../../recorder/simulated-gym/station.ts";
import { trainee } from "../../recorder/simulated-gym/trainees.ts";
import { calibrateHall, writeHall } from "./paper-hall.ts";
import { PtyBoard } from "./pty-board.ts";
import { RecorderProcess } from "./recorder-process.ts";

export const STATION = "knee-extension";
const SEED = 17;
/** Long past the 15 minutes of warming up. */
const WARM_US = 1_800_000_000;
const LONGEST_MS = 30_000;

export class Technician {
  readonly folder = mkdtempSync(join(tmpdir(), "tidemark-technician-"));
  readonly recorder: RecorderProcess;
  readonly board: PtyBoard;
  readonly configuration: string;
  readonly #gym: SimulatedGym;
  readonly #base;
  readonly #sockets = {
    socket: join(this.folder, "control", "control.sock"),
    service_socket: join(this.folder, "control", "service.sock"),
  };

  /** `speed`: seconds of the board in one of ours. */
  constructor(speed: number) {
    const whole = gymConfiguration({ store: join(this.folder, "tidemark.db"), ...this.#sockets, port: 0 });
    this.#base = { ...whole, station: whole.station.filter(({ id }) => id === STATION) };
    const models = stationsOf(this.#base, SEED).map((model): SimulatedStation => {
      return { ...model, board: { ...model.board, clock_at_boot_us: WARM_US } };
    });
    this.#gym = new SimulatedGym(models, SEED);
    this.board = new PtyBoard(join(this.folder, "tty"), this.#gym.station(STATION), speed);
    this.configuration = join(this.folder, "tidemark.toml");
    this.recorder = new RecorderProcess(this.configuration);
  }

  /** With the record that the simulated rig was calibrated with some days ago. */
  async arrive(): Promise<void> {
    writeHall({
      folder: this.folder,
      store: this.#base.store.path,
      control: this.#sockets,
      broker_port: null,
      stations: [{ id: STATION, serial_port: this.board.path, board: "knee-1" }],
    });
    await calibrateHall(this.#base, SEED);
    await this.board.plug();
    await this.recorder.start();
    await this.force();
  }

  async leave(): Promise<void> {
    await this.recorder.stop();
    await this.board.unplug();
    rmSync(this.folder, { recursive: true, force: true });
  }

  /** A dead weight on the grip, N; 0: nothing. */
  put(force_N: number): void {
    const dead = { tremor: 0, wavering: 0, resting_force_N: force_N };
    const plate = trainee("plate", 1, JOINT_REGIONS.knee, { style: "hold" }, dead);
    this.#gym.station(STATION).sit(force_N === 0 ? null : plate);
  }

  /** The same, and the recorder has seen it: what the line still held from before is read. */
  async hang(force_N: number): Promise<void> {
    this.put(force_N);
    await this.force((shown_N) => Math.abs(shown_N - force_N) < 10);
  }

  /** The board's clock wraps after 71.6 min of its own, which is two of ours; then nobody could tell how warm it is. */
  restartBoard(): void {
    this.#gym.station(STATION).restart("power-up");
  }

  ask(verb: Verb, args: object = {}): Promise<Reply> {
    return ask({ path: this.#sockets.service_socket, verb, args: { station: STATION, ...args } });
  }

  /** The result of a request that is to hold. */
  async done(verb: Verb, args: object = {}): Promise<Record<string, unknown>> {
    const reply = await this.ask(verb, args);
    if (!reply.ok) throw new Error(`${verb}: ${reply.failure.message}; the recorder's log ends:\n${this.#logEnd()}`);
    return reply.result as Record<string, unknown>;
  }

  /** Waits until the station shows a force, and such a one; that force, N. */
  async force(fits: (force_N: number) => boolean = () => true): Promise<number> {
    let last: unknown;
    for (const began_ms = performance.now(); performance.now() - began_ms < LONGEST_MS; ) {
      const reply = await this.ask("status");
      const { stations } = (reply.ok ? reply.result : {}) as { stations?: { sensor?: { force_N?: number | null } }[] };
      last = stations?.[0]?.sensor?.force_N;
      if (typeof last === "number" && fits(last)) return last;
      await new Promise((resolve) => setTimeout(resolve, 10));
    }
    throw new Error(
      `no such force within ${LONGEST_MS} ms, the last ${last}; the recorder's log ends:\n${this.#logEnd()}`,
    );
  }

  #logEnd(): string {
    return this.recorder.log.slice(-700);
  }
}

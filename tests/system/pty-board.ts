/**
 * A simulated station at the far end of a real tty: socat makes the pseudo-terminal that the recorder opens as it would
 * a USB adapter, and carries its bytes to and from the board model here. Killing socat is pulling the plug.
 */
import { type ChildProcessWithoutNullStreams, spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync } from "node:fs";
import type { RunningStation } from "../../recorder/simulated-gym/gym.ts";

const STEP_MS = 5;

export class PtyBoard {
  readonly path: string;
  readonly #station: RunningStation;
  /** Device seconds a second. Heartbeats bound it: a board that hears nothing for five of its seconds says so. */
  readonly #speed: number;
  #socat: ChildProcessWithoutNullStreams | null = null;
  #pacing: NodeJS.Timeout | undefined;
  #last_ms = 0;
  #heard = "";

  constructor(path: string, station: RunningStation, speed: number) {
    this.path = path;
    this.#station = station;
    this.#speed = speed;
  }

  /** Every line the host has sent so far. */
  get heard(): string {
    return this.#heard;
  }

  async plug(): Promise<void> {
    await this.#connect();
    this.#last_ms = performance.now();
    this.#pacing = setInterval(() => this.#pace(), STEP_MS);
  }

  async #connect(): Promise<void> {
    const socat = spawn("socat", [`PTY,link=${this.path},raw,echo=0,wait-slave`, "STDIO"]);
    this.#socat = socat;
    socat.stdin.on("error", () => {});
    socat.stdout.on("data", (bytes: Buffer) => {
      const text = bytes.toString("latin1");
      this.#heard += text;
      this.#station.hear(text);
      this.#send();
    });
    // It ends when the host closes the port, as no adapter would: there the next open finds it again.
    socat.once("exit", () => {
      if (this.#socat === socat) void this.#connect();
    });
    await once(socat, "spawn");
    while (!existsSync(this.path)) await new Promise((resolve) => setTimeout(resolve, 5));
  }

  async unplug(): Promise<void> {
    clearInterval(this.#pacing);
    const socat = this.#socat;
    this.#socat = null;
    if (socat === null || socat.exitCode !== null) return;
    const gone = once(socat, "exit");
    socat.kill("SIGKILL");
    await gone;
  }

  #pace(): void {
    const now_ms = performance.now();
    const passed_us = (now_ms - this.#last_ms) * 1000 * this.#speed;
    this.#last_ms = now_ms;
    this.#station.run(this.#station.now_us + passed_us);
    this.#send();
  }

  #send(): void {
    const bytes = this.#station.take();
    if (bytes !== "") this.#socat?.stdin.write(bytes, "latin1");
  }
}

/**
 * A simulated station at the far end of a real tty: socat makes the pseudo-terminal that the recorder opens as it would
 * a USB adapter, and carries its bytes to and from the board model here. Killing socat is pulling the plug.
 */
import { type ChildProcessWithoutNullStreams, spawn } from "node:child_process";
import { once } from "node:events";
import { closeSync, constants, openSync, rmSync } from "node:fs";
import type { RunningStation } from "../../recorder/simulated-gym/gym.ts";

const STEP_MS = 5;
const LONGEST_BACKLOG_BYTES = 2048;

export class PtyBoard {
  readonly path: string;
  readonly #station: RunningStation;
  /** Device seconds a second. Heartbeats bound it: a board that hears nothing for five of its seconds says so. */
  readonly #speed: number;
  #socat: ChildProcessWithoutNullStreams | null = null;
  #held: number | null = null;
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
    const socat = spawn("socat", [`PTY,link=${this.path},raw,echo=0`, "STDIO"]);
    this.#socat = socat;
    socat.stdin.on("error", () => {});
    socat.stdout.on("data", (bytes: Buffer) => {
      const text = bytes.toString("latin1");
      this.#heard += text;
      this.#station.hear(text);
      this.#send();
    });
    await once(socat, "spawn");
    this.#held = await this.#hold();
    this.#last_ms = performance.now();
    this.#pacing = setInterval(() => this.#pace(), STEP_MS);
  }

  /** Keeps the host's end open as well: an adapter stays where it is when a program closes it, a bare pty hangs up. */
  async #hold(): Promise<number> {
    for (;;) {
      try {
        return openSync(this.path, constants.O_RDWR | constants.O_NOCTTY);
      } catch {
        await new Promise((resolve) => setTimeout(resolve, 5));
      }
    }
  }

  async unplug(): Promise<void> {
    clearInterval(this.#pacing);
    const socat = this.#socat;
    this.#socat = null;
    if (this.#held !== null) closeSync(this.#held);
    this.#held = null;
    if (socat === null || socat.exitCode !== null) return;
    const gone = once(socat, "exit");
    socat.kill("SIGKILL");
    await gone;
    // As udev does; left behind, it would lead to whichever pty is given that number next.
    rmSync(this.path, { force: true });
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
    // Nobody reads at the other end: a UART loses what it cannot get rid of.
    const full = (this.#socat?.stdin.writableLength ?? 0) > LONGEST_BACKLOG_BYTES;
    if (bytes !== "" && !full) this.#socat?.stdin.write(bytes, "latin1");
  }
}

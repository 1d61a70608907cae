/**
 * A subscriber that shares no code with the recorder: mosquitto_sub(1) with a session that outlives its connection. What it
 * hears is kept with the moment it was heard: stdbuf(1) has it say each line at once.
 */
import { type ChildProcessWithoutNullStreams, spawn } from "node:child_process";
import { once } from "node:events";
import { createInterface } from "node:readline";

export interface Heard {
  readonly topic: string;
  readonly payload: string;
  /** This process's monotonic clock. */
  readonly at_ms: number;
}

const ROOT = "tidemark/";

export class Ears {
  readonly heard: Heard[] = [];
  /** The broker has its session and its subscriptions. */
  readonly ready: Promise<void>;
  readonly #child: ChildProcessWithoutNullStreams;

  constructor(port: number, user: string, password: string, topics: readonly string[]) {
    const filters = topics.flatMap((topic) => ["-t", topic]);
    const session = ["-V", "mqttv5", "-c", "-i", `ears-of-${user}`, "-q", "1", "-x", "86400"];
    const broker = ["-h", "127.0.0.1", "-p", String(port), "-u", user, "-P", password];
    this.#child = spawn("stdbuf", ["-oL", "mosquitto_sub", "-d", ...broker, ...session, ...filters, "-F", "%t %p"]);
    this.#child.stderr.pipe(process.stderr);
    const lines = createInterface({ input: this.#child.stdout });
    this.ready = new Promise((resolve, reject) => {
      lines.on("line", (line) => {
        if (line.startsWith("Subscribed ")) resolve();
        if (!line.startsWith(ROOT)) return;
        const end = line.indexOf(" ");
        this.heard.push({ topic: line.slice(0, end), payload: line.slice(end + 1), at_ms: performance.now() });
      });
      this.#child.once("exit", (code) => reject(new Error(`mosquitto_sub ended with ${code}`)));
    });
    this.ready.catch(() => {});
  }

  async close(): Promise<void> {
    if (this.#child.exitCode !== null) return;
    const gone = once(this.#child, "exit");
    this.#child.kill("SIGKILL");
    await gone;
  }
}

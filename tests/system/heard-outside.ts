/** A subscriber that is a process of its own, so that what it hears late is not late by our being busy. */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { createInterface } from "node:readline";

/** mosquitto_sub(1): %U is the moment of hearing, Unix time in seconds with a fraction; %p the payload. */
const FORMAT = "%U %p";

export interface HeardOutside {
  /** Of each message that holds the moment of saying, `said_ms` by Date.now: from said to heard, ms. */
  readonly late_ms: readonly number[];
  stop(): Promise<void>;
}

/** Listens at `topic` as user `box`, at QoS 1, to nothing else. */
export function hearOutside(port: number, topic: string, password: string): HeardOutside {
  const args = ["-h", "127.0.0.1", "-p", `${port}`, "-u", "box", "-P", password, "-q", "1", "-t", topic, "-F", FORMAT];
  const child: ChildProcess = spawn("mosquitto_sub", args, { stdio: ["ignore", "pipe", "ignore"] });
  const late_ms: number[] = [];
  if (child.stdout !== null) {
    createInterface(child.stdout).on("line", (line) => {
      const cut = line.indexOf(" ");
      const { said_ms } = JSON.parse(line.slice(cut)) as { said_ms?: number };
      if (said_ms !== undefined) late_ms.push(Number(line.slice(0, cut)) * 1000 - said_ms);
    });
  }
  return {
    late_ms,
    async stop() {
      if (child.exitCode !== null) return;
      const exited = once(child, "exit");
      child.kill();
      await exited;
    },
  };
}

/**
 * Whether some time service has set the clock. systemd-timesyncd(8) leaves a file; of any other, chrony or ntpd, the kernel
 * knows: it holds how far wrong the clock may be, and systemd-timedated reports it as `NTPSynchronized`
 * (org.freedesktop.timedate1(5)). timedatectl(1) asks it, in a process of its own, seldom, and nobody waits for it.
 */
import { execFile } from "node:child_process";
import { existsSync } from "node:fs";
import type { Socket } from "node:net";

const SYNCED = "/run/systemd/timesync/synchronized";
const ASK_AGAIN_MS = 60_000;
/** A clock that was set is seldom lost again. */
const ASK_AGAIN_IF_SYNCED_MS = 600_000;
const ANSWER_WITHIN_MS = 5000;

export interface TimeServicePorts {
  fileThere(): boolean;
  /** What timedatectl prints; null: it cannot be asked on this machine, now or ever. Rejects where asking fails for now. */
  ask(): Promise<string | null>;
}

const HOST: TimeServicePorts = { fileThere: () => existsSync(SYNCED), ask: askTimedatectl };

/** Answers at once with what is known at `now_ms`, and sees to it that more will be. What is not known is not claimed. */
export function timeService(ports: TimeServicePorts = HOST): (now_ms: number) => boolean {
  let kernel = false;
  let ask_at_ms = Number.NEGATIVE_INFINITY;
  return (now_ms) => {
    if (ports.fileThere()) return true;
    if (now_ms >= ask_at_ms) {
      // Until it has answered.
      ask_at_ms = Number.POSITIVE_INFINITY;
      void ports
        .ask()
        .catch(() => "")
        .then((printed) => {
          kernel = printed?.trim() === "yes";
          if (printed !== null) ask_at_ms = now_ms + (kernel ? ASK_AGAIN_IF_SYNCED_MS : ASK_AGAIN_MS);
        });
    }
    return kernel;
  };
}

function askTimedatectl(): Promise<string | null> {
  const words = ["show", "--property=NTPSynchronized", "--value"];
  return new Promise((resolve, reject) => {
    // Throws where there is no memory for another process, which is no reason for this one to end.
    const asked = execFile("timedatectl", words, (error, stdout) => {
      if (error === null) resolve(stdout);
      else if (error.code === "ENOENT") resolve(null);
      // May pass: a bus that has not started yet, say.
      else reject(error);
    });
    // A recorder that is told to stop does not wait for it; execFile's own time-out would.
    setTimeout(() => asked.kill(), ANSWER_WITHIN_MS).unref();
    asked.unref();
    for (const pipe of [asked.stdin, asked.stdout, asked.stderr]) (pipe as Socket | null)?.unref();
  });
}

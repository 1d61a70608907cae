/** The asking side of the probe, and of the reader's count. */
import type { ChildProcess } from "node:child_process";
import type { Asked, Used } from "./probe.ts";

export const used = (child: ChildProcess): Promise<Used> => answer(child, "used", "used");

/** Watches the event loop until `lateness_ms` is asked for. */
export function watchLoop(child: ChildProcess): void {
  child.send("watch" satisfies Asked);
}

export const lateness_ms = (child: ChildProcess): Promise<number> => answer(child, "late", "late_ms");
export const linesRead = (child: ChildProcess): Promise<number> => answer(child, "lines", "lines");

function answer<T>(child: ChildProcess, asked: Asked | "lines", name: string): Promise<T> {
  return new Promise((resolve) => {
    const take = (message: unknown): void => {
      const said = (message as Record<string, T | undefined>)[name];
      if (said === undefined) return;
      child.off("message", take);
      resolve(said);
    };
    child.on("message", take);
    child.send(asked);
  });
}

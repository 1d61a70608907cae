/** The serial line of a station: what it says goes into the station's loop. */
import { type Link, type OpenPort, openLink } from "../serial/link.ts";
import type { StationLoop } from "./station-loop.ts";

/** `openPort` absent: serial ports of this machine. */
export function linkOf(loop: Pick<StationLoop, "take">, path: string, openPort: OpenPort | undefined): Link {
  return openLink({
    path,
    ...(openPort === undefined ? {} : { openPort }),
    handlers: {
      onOpened: () => loop.take({ kind: "opened" }),
      onLine: (text, arrived_at_us) => loop.take({ kind: "line", text, arrived_at_us }),
      onClosed: () => loop.take({ kind: "closed" }),
      onTrouble: (sentence) => loop.take({ kind: "trouble", sentence }),
      onSilence: () => loop.take({ kind: "silence" }),
    },
  });
}

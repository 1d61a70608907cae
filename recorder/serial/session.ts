/**
 * One open port, from its first byte to its end: bytes to lines, and a watch on how long it has been quiet.
 *
 * The line parser of serialport swallows empty lines and, at the end of a stream, gives out the unfinished one as if it were
 * whole. Both matter: an empty line may be the first LF after an open, and half a number is a number. So it is asked to
 * leave the LF on, and what has none is dropped.
 */
import type { Duplex } from "node:stream";
import { ReadlineParser } from "@serialport/parser-readline";
import type { LinkClock } from "./clock.ts";
import { countGarble, NO_GARBLE } from "./garble.ts";
import { Intake } from "./intake.ts";
import { LineCap } from "./line-cap.ts";
import {
  HINT_AFTER_MS,
  NOTHING_AFTER_MS,
  quietFrom,
  silentAfter_ms,
  stalledAfter_ms,
  TICK_MS,
  tickQuiet,
} from "./quiet.ts";

export interface SessionHandlers {
  /** Without its LF, as latin1; empty lines too. `arrived_at_us`: when its last bytes were read. */
  line(text: string, arrived_at_us: number): void;
  text(verdict: "text" | "garbled"): void;
  /** More comes than is taken, or no longer so. */
  flood(flooding: boolean): void;
  /** Once for each silence. */
  silence(): void;
  /** Open, and not a byte so far. */
  nothing(): void;
  /** Once, at the end, whoever ended it. The port is being destroyed. */
  over(because: SessionEnd): void;
}

export type SessionEnd =
  | { readonly kind: "asked" }
  | { readonly kind: "lost"; readonly error: unknown }
  | { readonly kind: "stalled"; readonly quiet_ms: number }
  | { readonly kind: "nothing" };

export interface Session {
  /** False: not taken, since the port is gone or does not take what it was given before. */
  write(text: string): boolean;
  end(): void;
  /** Resolves when the port has let go of its device. */
  readonly closed: Promise<void>;
}

/** A board that listens takes 40 bytes in 4 ms; one that does not must not fill the memory. */
const WRITE_CAP_BYTES = 1024;

export function startSession(
  port: Duplex,
  clock: LinkClock,
  period_s: () => number,
  handlers: SessionHandlers,
): Session {
  const intake = new Intake(clock, (flooding) => handlers.flood(flooding));
  const cap = new LineCap((bytes, lines, next) => intake.took(bytes, lines, next));
  const parser = new ReadlineParser({ delimiter: "\n", encoding: "latin1", includeDelimiter: true });
  let arrived_at_us = clock.now_us();
  let garble = NO_GARBLE;
  let quiet = quietFrom(arrived_at_us / 1000);
  let heard: "nothing" | "bytes" = "nothing";
  let told: "nothing" | "silence" | "hint" = "nothing";
  let ended = false;
  let cancelTick = clock.after(TICK_MS, tick);

  const closed = new Promise<void>((resolve) => port.once("close", () => resolve()));

  port.on("data", (chunk: Buffer) => {
    arrived_at_us = clock.now_us();
    quiet = quietFrom(arrived_at_us / 1000);
    heard = "bytes";
    told = "nothing";
    const counted = countGarble(garble, chunk);
    garble = counted.state;
    if (counted.verdict !== null) handlers.text(counted.verdict);
  });
  parser.on("data", (text: string) => {
    if (!ended && text.endsWith("\n")) handlers.line(text.slice(0, -1), arrived_at_us);
  });
  port.once("close", (error?: unknown) => over({ kind: "lost", error: error ?? null }));
  port.once("end", () => over({ kind: "lost", error: null }));
  // Stays for the port's whole life: an error that comes late must not end the program.
  port.on("error", (error) => over({ kind: "lost", error }));
  port.pipe(cap).pipe(parser);

  function tick(): void {
    const now_ms = clock.now_us() / 1000;
    // Bytes that wait for their turn are not quiet.
    if (intake.holding) quiet = quietFrom(now_ms);
    const { quiet_ms } = quiet;
    quiet = tickQuiet(quiet, now_ms);
    if (heard === "nothing") waitForFirstByte(quiet_ms);
    else watch(quiet_ms);
    if (!ended) cancelTick = clock.after(TICK_MS, tick);
  }

  function waitForFirstByte(quiet_ms: number): void {
    if (quiet_ms >= HINT_AFTER_MS && told === "nothing") {
      told = "hint";
      handlers.nothing();
    }
    if (quiet_ms >= NOTHING_AFTER_MS) over({ kind: "nothing" });
  }

  function watch(quiet_ms: number): void {
    if (quiet_ms >= silentAfter_ms(period_s()) && told === "nothing") {
      told = "silence";
      handlers.silence();
    }
    if (quiet_ms >= stalledAfter_ms(period_s())) over({ kind: "stalled", quiet_ms });
  }

  function over(because: SessionEnd): void {
    if (ended) return;
    ended = true;
    cancelTick();
    intake.end();
    port.unpipe(cap);
    cap.destroy();
    parser.destroy();
    port.destroy();
    handlers.over(because);
  }

  return {
    closed,
    write(text) {
      if (ended || port.writableLength + text.length > WRITE_CAP_BYTES) return false;
      port.write(text, "latin1");
      return true;
    },
    end: () => over({ kind: "asked" }),
  };
}

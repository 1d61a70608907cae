/**
 * A station's serial line: opens its port, hands over lines, and opens it again for ever when it is lost, missing, busy or
 * silent. It decides nothing about what the lines say.
 *
 * Every `onOpened` is followed by one `onClosed`. `onTrouble` is called when what is wrong changes, with one sentence, and
 * with null when it is over: what kept the port from being open, with the open; what is wrong with an open port, with
 * its next good line, however often it is opened until then.
 */
import type { Duplex } from "node:stream";
import { type LinkClock, MONOTONIC_CLOCK } from "./clock.ts";
import { openHardwarePort } from "./hardware-port.ts";
import { reopenAfter_ms } from "./reopening.ts";
import { type Session, type SessionEnd, startSession } from "./session.ts";
import { floodTrouble, garbledTrouble, lostTrouble, nothingTrouble, stalledTrouble } from "./trouble.ts";

/** A stream of bytes both ways, closed by destroying it. Rejects with an Error whose message is one sentence. */
export type OpenPort = (path: string) => Promise<Duplex>;

export interface LinkHandlers {
  onOpened(): void;
  /** One line as latin1 without its LF, empty ones too; the host's monotonic clock. */
  onLine(text: string, arrived_at_us: number): void;
  onClosed(): void;
  onTrouble(sentence: string | null): void;
  /** No byte for max(1 s, 5 periods), and the event loop has polled for it. */
  onSilence(): void;
}

export interface LinkOptions {
  readonly path: string;
  readonly handlers: LinkHandlers;
  /** Absent: a serial port of this machine. */
  readonly openPort?: OpenPort;
  readonly clock?: LinkClock;
  /** 0 up to 1, anew at every call. Absent: random. */
  readonly jitter?: () => number;
}

export interface Link {
  /** As it is, LF included. False: not taken, the port is not open or does not take what it was given before. */
  write(text: string): boolean;
  /** The measured or configured time between readings; silence and stall are counted in it. At first 0.1 s. */
  expectPeriod(period_s: number): void;
  /** Resolves within a second, whatever the port is doing. */
  close(): Promise<void>;
}

const CLOSE_WITHIN_MS = 900;
const FIRST_PERIOD_S = 0.1;

export function openLink(options: LinkOptions): Link {
  const { path, handlers, openPort = openHardwarePort, clock = MONOTONIC_CLOCK, jitter = Math.random } = options;
  let closing = false;
  let session: Session | null = null;
  let period_s = FIRST_PERIOD_S;
  let failures = 0;
  let trouble: string | null = null;
  /** What ends the trouble: being open, or a good line. */
  let lasts: "until-open" | "until-line" = "until-open";
  let cancelRetry = (): void => {};
  /** What must be over before the device is free: an open under way, or a port that is closing. */
  let busy: Promise<unknown> = Promise.resolve();

  const say = (sentence: string | null, until: typeof lasts = "until-open"): void => {
    lasts = until;
    if (sentence === trouble || closing) return;
    trouble = sentence;
    handlers.onTrouble(sentence);
  };

  function open(): void {
    busy = openPort(path).then(opened, (error: unknown) => {
      say(error instanceof Error ? error.message : String(error));
      again();
    });
  }

  function opened(port: Duplex): Promise<void> | undefined {
    if (closing) return abandoned(port);
    let garbled = false;
    let flooding = false;
    session = startSession(port, clock, () => period_s, {
      line(text, arrived_at_us) {
        failures = 0;
        if (!garbled && !flooding) say(null);
        handlers.onLine(text, arrived_at_us);
      },
      text(verdict) {
        garbled = verdict === "garbled";
        if (garbled) say(garbledTrouble(path), "until-line");
      },
      flood(is) {
        flooding = is;
        if (flooding) say(floodTrouble(path), "until-line");
      },
      silence: () => handlers.onSilence(),
      nothing: () => say(nothingTrouble(path), "until-line"),
      over,
    });
    if (lasts === "until-open") say(null);
    handlers.onOpened();
    return undefined;
  }

  function over(because: SessionEnd): void {
    busy = session?.closed ?? busy;
    session = null;
    if (because.kind === "lost") say(lostTrouble(path, because.error));
    if (because.kind === "stalled") say(stalledTrouble(path, because.quiet_ms), "until-line");
    handlers.onClosed();
    again();
  }

  function again(): void {
    if (closing) return;
    failures++;
    cancelRetry = clock.after(reopenAfter_ms(failures, jitter()), open);
  }

  open();

  return {
    write: (text) => session?.write(text) ?? false,
    expectPeriod(expected_s) {
      period_s = expected_s;
    },
    close() {
      closing = true;
      cancelRetry();
      session?.end();
      return within(clock, CLOSE_WITHIN_MS, busy);
    },
  };
}

/** A port that came too late is let go of again. */
function abandoned(port: Duplex): Promise<void> {
  const closed = new Promise<void>((resolve) => port.once("close", () => resolve()));
  port.on("error", () => {});
  port.destroy();
  return closed;
}

function within(clock: LinkClock, limit_ms: number, work: Promise<unknown>): Promise<void> {
  return new Promise((resolve) => {
    const cancel = clock.after(limit_ms, resolve);
    void work.finally(() => {
      cancel();
      resolve();
    });
  });
}

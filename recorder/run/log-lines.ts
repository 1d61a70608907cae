/**
 * Where the log's lines go: straight to an open file descriptor, each at once, so that the last words of a program that
 * ends are out. Nobody waits for a reader and nothing fails for want of one: a line that is not taken is dropped, and how
 * many were is the next thing said.
 */
import { fstatSync, writeSync } from "node:fs";
import type { Level } from "pino";

/** Priorities of syslog(3), as sd-daemon(3) has a line begin with them. */
const PRIORITY: Readonly<Record<Level, string>> = {
  fatal: "<2>",
  error: "<3>",
  warn: "<4>",
  info: "<6>",
  debug: "<7>",
  trace: "<7>",
};

/** What a stream of pino has and gets: with this symbol pino tells it the level of the line it writes. */
const TOLD_LEVELS = Symbol.for("pino.metadata");

export interface LogLines {
  readonly [TOLD_LEVELS]: true;
  lastLevel: number;
  write(line: string): void;
}

/** Writes as far as it is taken; throws as `writeSync` of node:fs does. */
export type WriteSome = (bytes: Uint8Array) => number;

export interface LogLinesOptions {
  readonly write: WriteSome;
  /** The reader is the journal, which takes the priority off each line again. */
  readonly prefixed: boolean;
  readonly nameOf: (level: number) => Level;
}

export function logLines({ write, prefixed, nameOf }: LogLinesOptions): LogLines {
  let lost = 0;
  /** A line was cut off in the middle: the next one must not become part of it. */
  let torn = false;

  const put = (text: string): boolean => {
    let rest = Buffer.from(torn ? `\n${text}` : text);
    try {
      while (rest.length > 0) {
        const taken = write(rest);
        torn = taken < rest.length;
        rest = rest.subarray(taken);
      }
      return true;
    } catch {
      // EPIPE: nobody reads any more. EAGAIN: whoever reads does not keep up. ENOSPC: it goes to a full disk.
      return false;
    }
  };

  return {
    [TOLD_LEVELS]: true,
    lastLevel: 0,
    write(line) {
      const priority = (level: Level): string => (prefixed ? PRIORITY[level] : "");
      if (lost > 0) {
        const msg = `${lost} lines of this log were lost: whoever reads it did not take them.`;
        if (
          !put(`${priority("warn")}${JSON.stringify({ level: "warn", time: new Date().toISOString(), lost, msg })}\n`)
        ) {
          lost += 1;
          return;
        }
        lost = 0;
      }
      if (!put(`${priority(nameOf(this.lastLevel))}${line}`)) lost += 1;
    },
  };
}

/**
 * Whether what we write to `fd` goes to the journal: JOURNAL_STREAM names the device and inode of the stream the service
 * manager has made, systemd.exec(5), and somebody may have led the output elsewhere since.
 */
export function isJournal(fd: number, journal_stream: string | undefined): boolean {
  if (journal_stream === undefined) return false;
  try {
    const { dev, ino } = fstatSync(fd, { bigint: true });
    return journal_stream === `${dev}:${ino}`;
  } catch {
    return false;
  }
}

export function writerTo(fd: number): WriteSome {
  // A pipe or socket makes its writer wait for the reader until Node opens it as a stream: libuv then sets O_NONBLOCK.
  if (fd === 1) void process.stdout;
  if (fd === 2) void process.stderr;
  return (bytes) => writeSync(fd, bytes);
}

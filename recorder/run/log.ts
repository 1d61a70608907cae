/**
 * The log: one JSON line a change, at once, for the service manager to keep.
 *
 * Fields of every line: `level` (debug, info, warn, error, fatal), `time` (ISO 8601 UTC, ours: the journal stamps when it
 * got the line, and a file stamps nothing) and `msg`, one sentence. Where they apply: `station`, `room` (which part of the
 * program speaks), `err` (`type`, `code`, `message`, `at`: where in the program, and with --debug `stack`), `more` (how
 * many lines of the kind were not written), `reason` (in a word, what is wrong, or at level info no longer is), `request_id`, `verb`, `door`, `asker`, `performed_by`, `outcome`, `set_id`.
 */
import { type Level, pino } from "pino";
import { isJournal, type LogLines, logLines, writerTo } from "./log-lines.ts";
import { type LogLevel, type LogLine, Repetition } from "./repetition.ts";

export type ServiceLog = Readonly<Record<LogLevel, (fields: object, message: string) => void>>;

/** One that ends: what it has not said yet is said then. */
export interface EndingLog extends ServiceLog {
  end(): void;
}

const LEVELS = ["debug", "info", "warn", "error", "fatal"] as const satisfies readonly LogLevel[];
const SWEEP_EVERY_MS = 60_000;

/** `to` 2: standard error, where standard output is for people. */
export function serviceLog(level: "debug" | "info" | "warn", to: 1 | 2): EndingLog {
  const prefixed = isJournal(to, process.env["JOURNAL_STREAM"]);
  const nameOf = (number: number): Level => pino.levels.labels[number] as Level;
  return logTo(logLines({ write: writerTo(to), prefixed, nameOf }), level);
}

export function logTo(
  lines: LogLines | { write(line: string): void },
  level: "debug" | "info" | "warn",
  now_ms: () => number = () => performance.now(),
): EndingLog {
  const log = pino(
    {
      level,
      base: null,
      timestamp: pino.stdTimeFunctions.isoTime,
      formatters: { level: (label) => ({ level: label }) },
      // Never the error as it is: libraries hang their options on it, and with them passwords.
      serializers: { err: (error: unknown) => partsOf(error, level === "debug") },
    },
    lines,
  );
  const repetition = new Repetition();
  const write = (due: readonly LogLine[]): void => {
    for (const line of due) log[line.level](line.fields, line.message);
  };
  const sweeping = setInterval(() => write(repetition.due(now_ms())), SWEEP_EVERY_MS).unref();
  const take =
    (of: LogLevel) =>
    (fields: object, message: string): void => {
      if (log.isLevelEnabled(of)) write(repetition.take({ level: of, fields, message }, now_ms()));
    };
  const methods = Object.fromEntries(LEVELS.map((of) => [of, take(of)])) as unknown as ServiceLog;
  return {
    ...methods,
    end() {
      clearInterval(sweeping);
      write(repetition.due(now_ms(), true));
    },
  };
}

/** The same log, for one part of the program. */
export function inRoom(log: ServiceLog, room: string): ServiceLog {
  const methods = LEVELS.map((of) => [
    of,
    (fields: object, message: string): void => log[of]({ room, ...fields }, message),
  ]);
  return Object.fromEntries(methods) as unknown as ServiceLog;
}

function partsOf(error: unknown, whole: boolean): object {
  if (!(error instanceof Error)) return { type: typeof error, message: String(error) };
  const { code } = error as { readonly code?: unknown };
  const at = /^ +at (.+)$/m.exec(error.stack ?? "")?.[1];
  return {
    type: error.name,
    ...(typeof code === "string" || typeof code === "number" ? { code } : {}),
    message: error.message,
    ...(at === undefined ? {} : { at }),
    ...(whole ? { stack: error.stack } : {}),
  };
}

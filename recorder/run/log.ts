/** The log: one JSON line a change to standard output, synchronously, for the service manager to keep. */
import { destination, type Logger, pino } from "pino";

export type ServiceLog = Logger;

/** `to` 2: standard error, where standard output is for people. */
export function serviceLog(level: "debug" | "info" | "warn", to: 1 | 2): ServiceLog {
  return pino({ level, base: null, timestamp: pino.stdTimeFunctions.isoTime }, destination({ dest: to, sync: true }));
}

/**
 * Keeps a log readable, and off the card, when one thing happens over and over: of each kind of line only the first few of
 * an hour are written as they come, and how many more there were is one line when the hour is over. What is wrong and goes
 * on from hour to hour is that one line an hour. A day without a broker or a board is a handful of lines; a plug with a
 * loose contact is too.
 */

/**
 * A kind's first lines in an hour: of what is wrong or has a `reason`, which is then no longer so, and of what is everyday.
 * A busy station has some thirty sets an hour.
 */
const TROUBLES_AN_HOUR = 5;
const EVERYDAY_AN_HOUR = 60;
const HOUR_MS = 3_600_000;
/** Kinds told apart; boards and strangers choose some of the words, and what is beyond is one kind together. */
const MOST_KINDS = 256;

export type LogLevel = "debug" | "info" | "warn" | "error" | "fatal";

export interface LogLine {
  readonly level: LogLevel;
  readonly fields: object;
  readonly message: string;
}

interface Kind {
  readonly since_ms: number;
  said: number;
  /** Not written. */
  held: number;
  newest: LogLine;
}

export class Repetition {
  readonly #kinds = new Map<string, Kind>();

  /** The lines to write now that `line` has come. `now_ms` is monotonic. */
  take(line: LogLine, now_ms: number): readonly LogLine[] {
    // Whoever debugs wants all of it, and last words come once.
    if (line.level === "debug" || line.level === "fatal") return [line];
    const due = this.due(now_ms);
    const name = this.#nameOf(line);
    const kind = this.#kinds.get(name) ?? { since_ms: now_ms, said: 0, held: 0, newest: line };
    this.#kinds.set(name, kind);
    kind.newest = line;
    if (kind.said >= mostOf(line)) {
      kind.held += 1;
      return due;
    }
    kind.said += 1;
    return [...due, line];
  }

  /** What is to be said of kinds whose hour is over; `ending`: of all of them. */
  due(now_ms: number, ending = false): readonly LogLine[] {
    const lines: LogLine[] = [];
    for (const [name, { since_ms, held, newest }] of this.#kinds) {
      if (!ending && now_ms - since_ms < HOUR_MS) continue;
      this.#kinds.delete(name);
      if (held === 0) continue;
      // One that goes on has been heard of; everyday lines are each of something else.
      if (!isEveryday(newest)) {
        this.#kinds.set(name, { since_ms: now_ms, said: TROUBLES_AN_HOUR, held: 0, newest });
      }
      const minutes = Math.max(1, Math.round((now_ms - since_ms) / 60_000));
      const message = `${newest.message} (the last of ${held} more in ${minutes} minutes)`;
      lines.push({ ...newest, fields: { ...newest.fields, more: held }, message });
    }
    return lines;
  }

  #nameOf({ level, fields, message }: LogLine): string {
    const { station, verb, outcome } = fields as Readonly<Record<string, unknown>>;
    const name = JSON.stringify([level, station, verb, outcome, message.replace(VARYING, "0")]);
    return this.#kinds.has(name) || this.#kinds.size < MOST_KINDS ? name : `${level} and too many kinds`;
  }
}

const isEveryday = ({ level, fields }: LogLine): boolean => level === "info" && !("reason" in fields);
const mostOf = (line: LogLine): number => (isEveryday(line) ? EVERYDAY_AN_HOUR : TROUBLES_AN_HOUR);

/** Ids and numbers: what differs between two lines of one kind. */
const VARYING = /[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|\d+(?:\.\d+)?/g;

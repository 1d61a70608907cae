/** Whether the broker is there and takes what we say, told on change only: a broker that is away for a day is one line. */
import type { AlarmCode } from "../../protocol/vocabulary.ts";
import type { Trouble } from "./trouble.ts";

export interface BusStatus {
  readonly connected: boolean;
  /** One sentence for people; null: all is well, or nothing is known yet. */
  readonly trouble: string | null;
  readonly alarm: AlarmCode | null;
}

export interface StatusListeners {
  /** On every change, and only then. */
  readonly onStatus: (status: BusStatus) => void;
  /** One line a change, never one a try. */
  readonly log: (line: string) => void;
}

/** Call the result with how things stand, as often as you like. `place` is the broker as people know it. */
export function statusTeller(place: string, { onStatus, log }: StatusListeners) {
  let told: BusStatus = { connected: false, trouble: null, alarm: null };
  return (connected: boolean, trouble: Trouble | null): void => {
    const status: BusStatus = { connected, trouble: trouble?.sentence ?? null, alarm: trouble?.alarm ?? null };
    const before = told;
    if (same(status, before)) return;
    told = status;
    if (connected && !before.connected) log(`Connected to the broker at ${place}.`);
    if (status.trouble !== null && status.trouble !== before.trouble) log(status.trouble);
    if (connected && before.connected && status.trouble === null) log(`The broker at ${place} takes everything again.`);
    onStatus(status);
  };
}

const same = (a: BusStatus, b: BusStatus): boolean =>
  a.connected === b.connected && a.trouble === b.trouble && a.alarm === b.alarm;

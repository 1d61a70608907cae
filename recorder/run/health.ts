/** What is wrong with the recorder itself, from what was measured of it. A station's own troubles are in its `sensor`. Pure. */
import type { Disk } from "./disk.ts";
import type { Delay } from "./event-loop.ts";

/** Something that has stood since a moment, ISO 8601 UTC; null: it does not. */
export interface Standing {
  readonly trouble: string | null;
  readonly since: string | null;
}

export interface Vitals {
  readonly uptime_s: number;
  readonly clock_synced: boolean;
  readonly event_loop: Delay;
  readonly memory: { readonly rss_bytes: number; readonly heap_bytes: number };
  readonly storage: Standing & {
    readonly unsaved_sets: number;
    /** Zeros, latches and the like. */
    readonly unwritten: number;
    readonly checkpoints_failing: number;
    readonly slowest_write_s: number;
  };
  readonly disk: Disk;
  readonly broker: Standing & {
    readonly connected: boolean;
    readonly dropped_live: number;
    readonly dropped_events: number;
  };
  readonly outbox: {
    readonly waiting: number;
    /** When it was last seen empty, or the start; null: it is. No row in it has waited for longer. */
    readonly not_empty_since: string | null;
    readonly not_empty_s: number;
  };
  readonly stations: { readonly ready: readonly string[]; readonly not_ready: readonly string[] };
}

export type ReasonCode = "storage" | "disk-low" | "slow-disk" | "stood-still" | "broker" | "outbox-waits";
export interface Reason {
  readonly code: ReasonCode;
  /** One sentence that says what would do. */
  readonly sentence: string;
}

/** Some ten thousand sets: weeks of a busy gym to make room in. */
const LOW_DISK_BYTES = 200e6;
/** A sound card takes some tens of milliseconds; one this slow holds up the keeping of sets, never a stop. */
const SLOW_WRITE_S = 2;
/** Longer than a trainer would wait for the stop. */
const STOOD_STILL_S = 0.5;
/** A broker that is there takes a set within a second; one refused set waits alone. */
const OUTBOX_WAITS_S = 600;

export function reasonsAgainst({ storage, disk, event_loop, broker, outbox }: Vitals): readonly Reason[] {
  const reasons: Reason[] = [];
  const say = (code: ReasonCode, sentence: string): void => void reasons.push({ code, sentence });
  if (storage.trouble !== null) say("storage", storage.trouble);
  if (disk.free_bytes !== null && disk.free_bytes < LOW_DISK_BYTES) {
    say("disk-low", `The disk of the store has only ${Math.floor(disk.free_bytes / 1e6)} MB left: make space on it.`);
  }
  if (storage.slowest_write_s >= SLOW_WRITE_S) {
    const took = storage.slowest_write_s.toFixed(1);
    say("slow-disk", `Writing to the store took ${took} s: see what else uses its disk, or replace an old card.`);
  }
  if (event_loop.max_s >= STOOD_STILL_S) {
    say("stood-still", `The program stood still for ${event_loop.max_s.toFixed(1)} s: see what else runs on this box.`);
  }
  if (broker.trouble !== null) say("broker", broker.trouble);
  if (broker.connected && outbox.not_empty_s >= OUTBOX_WAITS_S) {
    say(
      "outbox-waits",
      `The broker is there but does not take everything, ${outbox.waiting} messages wait: see its log.`,
    );
  }
  return reasons;
}

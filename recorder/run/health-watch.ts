/** Watches over the recorder itself: measures now and then, says when the verdict changes, and answers how things are. */
import type { PresenceHealth } from "../../protocol/messages/presence.ts";
import { timeOut } from "../../protocol/units.ts";
import type { Bus } from "../mqtt/bus-port.ts";
import type { Store } from "../ports.ts";
import { instant, type Now } from "../station/exchange.ts";
import { reasonsOf } from "../station/readiness.ts";
import { type Disk, UNKNOWN_DISK } from "./disk.ts";
import { EventLoop } from "./event-loop.ts";
import { type Reason, type ReasonCode, reasonsAgainst, type Standing, type Vitals } from "./health.ts";
import type { Keeper } from "./keeper.ts";
import type { ServiceLog } from "./log.ts";
import type { StandingWrites } from "./standing-writes.ts";
import type { StationLoop } from "./station-loop.ts";
import type { WriteTimes } from "./timed-store.ts";

export interface HealthPorts {
  readonly store: Pick<Store, "outboxSize">;
  readonly disk: () => Promise<Disk>;
  readonly times: WriteTimes;
  readonly now: () => Now;
  readonly keeper: Pick<Keeper, "unsaved">;
  readonly writes: Pick<StandingWrites, "unwritten">;
  readonly loops: ReadonlyMap<string, Pick<StationLoop, "id" | "station">>;
  /** null: there is none yet. */
  readonly bus: () => Pick<Bus, "connected" | "dropped" | "presenceChanged"> | null;
  readonly log: Pick<ServiceLog, "info" | "warn">;
}

const LOOK_EVERY_MS = 10_000;
const MINUTE_MS = 60_000;
const WELL: Standing = { trouble: null, since: null };

export class HealthWatch {
  readonly #ports: HealthPorts;
  readonly #began: Now;
  readonly #loop = new EventLoop();
  readonly #timer: NodeJS.Timeout;
  #disk: Disk = UNKNOWN_DISK;
  #storage = WELL;
  #broker = WELL;
  #waiting = 0;
  #empty: Now;
  #turned_ms: number;
  #looking = false;
  #logged: readonly Reason[] = [];
  #told = "";
  #told_ms = Number.NEGATIVE_INFINITY;

  constructor(ports: HealthPorts) {
    this.#ports = ports;
    this.#began = ports.now();
    this.#empty = this.#began;
    this.#turned_ms = this.#began.ms;
    this.#timer = setInterval(() => void this.look(), LOOK_EVERY_MS);
    void this.look();
  }

  /** One sentence; null: all is well with it again. */
  storage(trouble: string | null): void {
    this.#storage = this.#follow(this.#storage, trouble);
    this.#judge();
  }

  broker(trouble: string | null): void {
    this.#broker = this.#follow(this.#broker, trouble);
    this.#judge();
  }

  /** Everything, for `status`. */
  status(): Vitals & { readonly ok: boolean; readonly reasons: readonly string[] } {
    const vitals = this.#vitals();
    const reasons = reasonsAgainst(vitals).map(({ sentence }) => sentence);
    return { ok: reasons.length === 0, reasons, ...vitals };
  }

  /** What goes with the presence. */
  brief(): PresenceHealth {
    const { ok, reasons, event_loop, memory, storage, disk, outbox, stations } = this.status();
    return {
      ok,
      reasons: [...reasons],
      event_loop_delay_s: timeOut(event_loop.max_s),
      rss_bytes: memory.rss_bytes,
      free_bytes: disk.free_bytes,
      unsaved_sets: storage.unsaved_sets,
      outbox_waiting: outbox.waiting,
      stations_not_ready: [...stations.not_ready],
    };
  }

  /** The start is over. It stands still by its nature, and nobody trained. */
  started(): void {
    this.#loop.forget();
  }

  stop(): void {
    clearInterval(this.#timer);
    this.#loop.stop();
  }

  /** A disk that hangs is looked at once, and judged meanwhile by how long it has hung. */
  async look(): Promise<void> {
    if (!this.#looking) await this.#measure();
    const { ms } = this.#ports.now();
    this.#judge();
    if (ms - this.#turned_ms < MINUTE_MS) return;
    this.#turned_ms = ms;
    this.#loop.turn();
    this.#ports.times.turn();
  }

  async #measure(): Promise<void> {
    this.#looking = true;
    try {
      this.#disk = await this.#ports.disk();
      this.#waiting = await this.#ports.store.outboxSize();
      if (this.#waiting === 0) this.#empty = this.#ports.now();
    } catch {
      // The store raises its own alarm, and what was measured last stands.
    } finally {
      this.#looking = false;
    }
  }

  #follow(before: Standing, trouble: string | null): Standing {
    if (trouble === null) return WELL;
    return { trouble, since: before.since ?? instant(this.#ports.now()) };
  }

  #vitals(): Vitals {
    const { now, keeper, writes, loops, times } = this.#ports;
    const { ms, clock_synced } = now();
    const { rss, heapUsed } = process.memoryUsage();
    const bus = this.#ports.bus();
    const dropped = bus?.dropped() ?? { live: 0, events: 0 };
    const waiting = this.#waiting > 0;
    const of = (ready: boolean): string[] =>
      [...loops.values()].flatMap(({ id, station }) => ((reasonsOf(station).length === 0) === ready ? [id] : []));
    return {
      uptime_s: Math.floor((ms - this.#began.ms) / 1000),
      clock_synced,
      event_loop: this.#loop.delay,
      memory: { rss_bytes: rss, heap_bytes: heapUsed },
      storage: {
        ...this.#storage,
        unsaved_sets: keeper.unsaved,
        unwritten: writes.unwritten,
        checkpoints_failing: times.checkpoints_failing,
        slowest_write_s: times.slowest_s,
      },
      disk: this.#disk,
      broker: {
        ...this.#broker,
        connected: bus?.connected() ?? false,
        dropped_live: dropped.live,
        dropped_events: dropped.events,
      },
      outbox: {
        waiting: this.#waiting,
        not_empty_since: waiting ? instant(this.#empty) : null,
        not_empty_s: waiting ? Math.floor((ms - this.#empty.ms) / 1000) : 0,
      },
      stations: { ready: of(true), not_ready: of(false) },
    };
  }

  #judge(): void {
    const vitals = this.#vitals();
    const reasons = reasonsAgainst(vitals);
    this.#log(reasons);
    const verdict = [...reasons.map(({ code }) => code), ...vitals.stations.not_ready].join(" ");
    const { ms } = this.#ports.now();
    if (verdict === this.#told || ms - this.#told_ms < MINUTE_MS) return;
    this.#told = verdict;
    this.#told_ms = ms;
    this.#ports.bus()?.presenceChanged();
  }

  /** What the broker's side has logged already is not logged again. */
  #log(reasons: readonly Reason[]): void {
    const { log } = this.#ports;
    const among = (some: readonly Reason[], code: ReasonCode): boolean => some.some((reason) => reason.code === code);
    for (const { code, sentence } of reasons) {
      if (code !== "broker" && !among(this.#logged, code)) log.warn({ reason: code }, sentence);
    }
    for (const { code } of this.#logged) {
      if (code !== "broker" && !among(reasons, code)) log.info({ reason: code }, `All is well again: ${code}.`);
    }
    this.#logged = reasons;
  }
}

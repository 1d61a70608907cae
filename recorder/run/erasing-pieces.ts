/** An erasure, piece by piece through the storage thread: whatever else is asked of it comes in between. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { ErasedSets, Erasure, ErasureNotice, ErasurePlace } from "../care-ports.ts";
import type { Store } from "../ports.ts";
import type { Erased } from "../station/erased.ts";

export interface PiecesPorts {
  readonly store: Store;
  readonly stations: readonly string[];
  /** What each tombstone is announced with. */
  readonly notice: () => ErasureNotice;
  /** The stations forget it. */
  readonly forget: (erased: Erased) => void;
  /** Sets are gone from the store, and the outbox says so. */
  readonly gone: (sets: ErasedSets["sets"]) => void;
  /** The newest set that is left at a station. */
  readonly latest: (station: string, set: SetMessage | null) => void;
  readonly stopping: AbortSignal;
  readonly date: () => string;
}

export interface Gone {
  readonly sets: number;
  readonly outbox: number;
  readonly plans: number;
  readonly tags: number;
  readonly others: number;
  readonly claims: number;
  readonly running: number;
  readonly claims_kept: number;
  readonly undated: number;
  /** Sets of others whose log cannot be read. */
  readonly unreadable: readonly string[];
  /** A reader from outside kept old pages of the file. */
  readonly held: boolean;
}

const NONE: Gone = {
  sets: 0,
  outbox: 0,
  plans: 0,
  tags: 0,
  others: 0,
  claims: 0,
  running: 0,
  claims_kept: 0,
  undated: 0,
  unreadable: [],
  held: false,
};

/** null: the recorder stops, and the next start goes on. Rejects as the store does. */
export async function runErasure(erasure: Erasure, ports: PiecesPorts): Promise<Gone | null> {
  const { store, stopping } = ports;
  const number = erasure.erasure;
  let gone = NONE;
  for (;;) {
    const sets = await eraseSets(erasure, ports);
    if (sets === null) return null;
    gone = plus(gone, sets);
    for (let after: number | null = null; ; ) {
      if (stopping.aborted) return null;
      const piece = await store.eraseClaims(number, after);
      gone = plus(gone, piece);
      after = piece.after;
      if (after === null) break;
    }
    if (!(await sweep(ports))) return null;
    const held = await eraseTraces(number, ports);
    if (held === null) return null;
    const end = await store.endErasure(number, ports.date());
    if (end === null) continue;
    await sweep(ports);
    return plus({ ...gone, held }, { ...end, tags: end.tags.length });
  }
}

/** The sets alone, and what stands at the broker for them; null: the recorder stops. */
export async function eraseSets(erasure: Erasure, ports: PiecesPorts): Promise<Gone | null> {
  const { store, stopping, notice } = ports;
  let gone = NONE;
  let after: ErasurePlace | null = null;
  let more = true;
  while (more) {
    if (stopping.aborted) return null;
    const piece: ErasedSets = await store.eraseSets(erasure.erasure, notice(), after);
    ({ after, more } = piece);
    gone = plus(gone, { ...piece, sets: piece.sets.length });
    if (piece.sets.length === 0) continue;
    ports.forget({ trainee: erasure.trainee, tags: [], set_ids: piece.sets.map(({ set_id }) => set_id) });
    ports.gone(piece.sets);
  }
  // Of other people's sets, too, which may stand there as of when they were the erased one's.
  for (const station of ports.stations) ports.latest(station, await store.latest(station));
  return gone;
}

async function sweep({ store, stopping }: PiecesPorts): Promise<boolean> {
  for (let more = true; more; ) {
    more = await store.sweep();
    if (stopping.aborted) return false;
  }
  return true;
}

/** How often a reader from outside is waited for, each time as long as the store waits for a lock. */
const TRIES = 3;

async function eraseTraces(number: number, { store, stopping }: PiecesPorts): Promise<boolean | null> {
  let after: number | null = null;
  for (let tries = 0; tries < TRIES; ) {
    if (stopping.aborted) return null;
    const next = await store.eraseTraces(number, after);
    if (next === null) return false;
    if (next === "busy") tries += 1;
    else after = next;
  }
  return true;
}

function plus(gone: Gone, more: Partial<Gone>): Gone {
  const sum = (name: Exclude<keyof Gone, "unreadable" | "held">): number => gone[name] + (more[name] ?? 0);
  return {
    sets: sum("sets"),
    outbox: sum("outbox"),
    plans: sum("plans"),
    tags: sum("tags"),
    others: sum("others"),
    claims: sum("claims"),
    running: sum("running"),
    claims_kept: sum("claims_kept"),
    undated: sum("undated"),
    unreadable: [...new Set([...gone.unreadable, ...(more.unreadable ?? [])])],
    held: gone.held || (more.held ?? false),
  };
}

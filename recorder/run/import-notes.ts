/** What whoever imported a file should know of it, one sentence each. */
import { type Amounts, IMPORTED_KINDS, type ImportedPiece } from "../care-ports.ts";
import type { Store } from "../ports.ts";
import type { CheckedFile } from "./import-checking.ts";

export interface Brought extends Omit<ImportedPiece, "place" | "differing"> {
  readonly differing: Readonly<Record<Kind, Differing>>;
}
type Kind = keyof Amounts;
interface Differing {
  readonly count: number;
  /** The first of them. */
  readonly ids: readonly string[];
}

/** Of a file none of which is written yet. */
export const NOTHING_YET: Brought = {
  imported: ofEach(() => 0),
  known: ofEach(() => 0),
  differing: ofEach(() => ({ count: 0, ids: [] })),
  later: 0,
  erased: 0,
};

/** And a piece more. */
export function withPiece(brought: Brought, piece: ImportedPiece): Brought {
  return {
    imported: ofEach((kind) => brought.imported[kind] + piece.imported[kind]),
    known: ofEach((kind) => brought.known[kind] + piece.known[kind]),
    differing: ofEach((kind) => {
      const { count, ids } = brought.differing[kind];
      const more = piece.differing.filter((each) => each.kind === kind).map(({ id }) => id);
      return { count: count + more.length, ids: [...ids, ...more].slice(0, NAMED) };
    }),
    later: brought.later + piece.later,
    erased: brought.erased + piece.erased,
  };
}

function ofEach<T>(value: (kind: Kind) => T): Readonly<Record<Kind, T>> {
  return Object.fromEntries(IMPORTED_KINDS.map((kind) => [kind, value(kind)])) as Record<Kind, T>;
}

/** How many things of a kind are named. */
const NAMED = 3;

export interface NotesPorts {
  /** Those the configuration names. */
  readonly stations: readonly string[];
  readonly store: Pick<Store, "calibrationInForce" | "calibration">;
}

export async function importNotes(
  { in_force, stations: theirs }: Pick<CheckedFile, "in_force" | "stations">,
  brought: Brought,
  { stations, store }: NotesPorts,
): Promise<string[]> {
  const notes: string[] = [];
  const strangers = theirs.filter((station) => !stations.includes(station));
  if (strangers.length > 0) {
    notes.push(
      `Not among the stations here: ${listed(strangers, strangers.length)}; what is of them is kept all the same.`,
    );
  }
  for (const [station, calibration_id] of Object.entries(in_force)) {
    if (!stations.includes(station) || (await store.calibrationInForce(station)) !== null) continue;
    if ((await store.calibration(calibration_id)) === null) continue;
    notes.push(
      `No calibration is in force at ${station}; where the file comes from it was ${calibration_id}: ` +
        "put it in force with calibration-use if the same sensor is here, and check it with a known load.",
    );
  }
  return [...notes, ...notTaken(brought)];
}

function notTaken({ imported, differing, later, erased }: Brought): string[] {
  const notes: string[] = [];
  if (later > 0) notes.push(`Of ${sets(later)} the file has a later revision; what was here stays.`);
  if (erased > 0) notes.push(`Erased here before, and not brought back: ${sets(erased)}.`);
  for (const kind of IMPORTED_KINDS) {
    const { count, ids } = differing[kind];
    if (count > 0) notes.push(`${DIFFERING[kind]}: ${listed(ids, count)}; what was here stays.`);
  }
  if (imported.sets > 0) {
    notes.push("The imported sets are not announced: readers heard of them where they come from, or ask with `sets`.");
  }
  return notes;
}

const sets = (number: number): string => (number === 1 ? "1 set" : `${number} sets`);

const DIFFERING = {
  sets: "These sets are here otherwise under the same revision",
  calibrations: "These calibration records are here otherwise",
  checks: "These checks are here otherwise",
  tags: "These tags stand for somebody else here",
  plans: "These plans are newer here, or were taken away",
} as const satisfies Record<Kind, string>;

function listed(ids: readonly string[], count: number): string {
  const named = ids.slice(0, NAMED);
  return count > named.length ? `${named.join(", ")} and ${count - named.length} more` : named.join(", ");
}

/** Sets that are not there any more, for a reader who goes through the numbers: it may have missed their announcement. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { ErasedSet } from "../ports.ts";
import type { Database } from "./database.ts";

const PAGE_ERASED = 1000;

interface WithErased {
  readonly found: readonly SetMessage[];
  readonly erased: { readonly erased?: readonly ErasedSet[] };
  /** There are more erasures than a page takes: sets behind the last of them wait for the next one. */
  readonly cut: boolean;
}

/** `found` by number; `more`: there are others behind its last. Both lists then cover the same numbers. */
export function withErased(
  database: Database,
  from_set_seq: number | undefined,
  found: readonly SetMessage[],
  more: boolean,
): WithErased {
  if (from_set_seq === undefined) return { found, erased: {}, cut: false };
  const last = (more ? found.at(-1)?.set_seq : undefined) ?? Number.MAX_SAFE_INTEGER;
  const rows = database
    .all<ErasedSet>(
      `SELECT set_id, set_seq FROM change_log WHERE erased = 1 AND set_seq BETWEEN ? AND ?
       ORDER BY set_seq LIMIT ${PAGE_ERASED + 1}`,
      from_set_seq,
      last,
    )
    .map((row) => ({ ...row }));
  if (rows.length <= PAGE_ERASED) return { found, erased: { erased: rows }, cut: false };
  const erased = rows.slice(0, PAGE_ERASED);
  const end = erased.at(-1)?.set_seq ?? from_set_seq;
  return { found: found.filter(({ set_seq }) => set_seq <= end), erased: { erased }, cut: true };
}

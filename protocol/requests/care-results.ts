/** What the verbs that look after the record as a whole answer with. Open schemas: readers ignore what they do not know. */
import { z } from "zod";
import { uuid } from "../messages/parts.ts";

const count = z.int().min(0);

/** `backup`: it was opened and read through before this was said. */
export const backupResultSchema = z.looseObject({
  path: z.string(),
  bytes: count,
  store: uuid,
  sets: count,
  last_set_seq: z.int().nullable(),
  /** What it does not hold, and how to keep it, one sentence each. */
  notes: z.array(z.string()),
});
export type BackupResult = z.infer<typeof backupResultSchema>;

/** `restore`: what the recorder begins again with. */
export const restoreResultSchema = z.looseObject({
  /** The new id: readers of the former store begin anew. */
  store: uuid,
  /** Whose copy it was. */
  former_store: uuid,
  sets: count,
  last_set_seq: z.int().nullable(),
  /** Where the store that was in use will be kept. */
  kept_aside: z.string().nullable(),
  /** One sentence each: what to do next. */
  notes: z.array(z.string()),
});
export type RestoreResult = z.infer<typeof restoreResultSchema>;

/** `erase`: what was removed, and what still holds it. */
export const eraseResultSchema = z.looseObject({
  sets: count,
  plans: count,
  tags: count,
  /** Messages that had not been sent yet. */
  outbox: count,
  /** Sets that are somebody else's by now, which stay: only what they were before went. */
  others: count,
  /** Where they were named as who did something, and are not any more. */
  claims: count,
  /** One sentence each. */
  still_held: z.array(z.string()),
});
export type EraseResult = z.infer<typeof eraseResultSchema>;

const amounts = { sets: count, plans: count, tags: count, calibrations: count, checks: count } as const;

export const exportResultSchema = z.looseObject({
  path: z.string(),
  bytes: count,
  ...amounts,
  /** One sentence each: what is kept and not in the file, and why. */
  notes: z.array(z.string()),
});
export type ExportResult = z.infer<typeof exportResultSchema>;

/** `import` of a file: what is new here, and what was here already. */
export const importFileResultSchema = z.looseObject({
  path: z.string(),
  imported: z.looseObject(amounts),
  known: z.looseObject(amounts),
  /** One sentence each: what was left, and why. */
  notes: z.array(z.string()),
});
export type ImportFileResult = z.infer<typeof importFileResultSchema>;

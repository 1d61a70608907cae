/** Whether the recorder is there. The same shape is the will, so a lost recorder says so by itself. */
import { z } from "zod";
import { count, envelope, instant, stationId, uuid } from "./parts.ts";

/** How the recorder itself is. Measured values are of the moment of the message, which comes when the verdict or who is ready changes. */
export const presenceHealthSchema = z.looseObject({
  ok: z.boolean().describe("Nothing is wrong with the recorder itself. How a station is, its sensor message says."),
  reasons: z.array(z.string()).describe("What is wrong and what would do, one sentence each; empty when ok."),
  event_loop_delay_s: z
    .number()
    .nullable()
    .describe("The longest the program was late in the last full minute and the one that runs, s."),
  rss_bytes: count.describe("Memory in use."),
  free_bytes: count.nullable().describe("Left on the disk of the store; null: not known."),
  unsaved_sets: count.describe("Finished sets that the store could not take yet."),
  outbox_waiting: count.describe("Messages about sets that the broker has not taken yet."),
  stations_not_ready: z.array(stationId).describe("Stations at which no set could begin, at that moment."),
});
export type PresenceHealth = z.infer<typeof presenceHealthSchema>;

export const presenceSchema = z.looseObject({
  ...envelope,
  online: z.boolean(),
  reason: z
    .enum(["start", "stop", "lost"])
    .describe(
      "start: it is there. stop: it was ended on purpose. lost: the broker lost it, and says so with the time at which it had connected.",
    ),
  since: instant.describe("Since when: its start or its stop; with lost, the time at which it had connected."),
  version: z.string().describe("The program's version."),
  store: uuid.describe("The database file; another one starts its own set_seq."),
  stations: z.array(stationId).describe("The stations it serves."),
  health: presenceHealthSchema
    .nullable()
    .describe(
      "How the recorder itself is, said again when that changes, at most once a minute; null: it is not there.",
    ),
});
export type PresenceMessage = z.infer<typeof presenceSchema>;

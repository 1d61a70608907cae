/** Whether the recorder is there. The same shape is the will, so a lost recorder says so by itself. */
import { z } from "zod";
import { envelope, instant, stationId, uuid } from "./parts.ts";

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
});
export type PresenceMessage = z.infer<typeof presenceSchema>;

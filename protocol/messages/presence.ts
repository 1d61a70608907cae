/** Whether the recorder is there. The same shape is the will, so a lost recorder says so by itself. */
import { z } from "zod";
import { envelope, instant, stationId, uuid } from "./parts.ts";

export const presenceSchema = z.looseObject({
  ...envelope,
  online: z.boolean(),
  reason: z.enum(["start", "stop", "lost"]),
  since: instant,
  version: z.string(),
  store: uuid,
  stations: z.array(stationId),
});
export type PresenceMessage = z.infer<typeof presenceSchema>;

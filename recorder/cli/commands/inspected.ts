import { inspectedResultSchema } from "../../../protocol/requests/results.ts";
import { stationCommand } from "../ask-command.ts";
import { BY } from "../fields.ts";

export const command = stationCommand({
  verb: "inspected",
  fields: BY,
  example: "tidemark inspected leg-press --performed-by tech-2",
  result: inspectedResultSchema,
  say: ({ cleared }) => (cleared ? "the station is in use again" : "nothing was waiting for an inspection"),
});

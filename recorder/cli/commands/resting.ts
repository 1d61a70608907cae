import { restingResultSchema } from "../../../protocol/requests/results.ts";
import { stationCommand } from "../ask-command.ts";
import { BY } from "../fields.ts";
import { sayForce } from "../quantities.ts";

export const command = stationCommand({
  verb: "resting",
  fields: BY,
  example: "tidemark resting leg-press",
  result: restingResultSchema,
  say: ({ resting_force_N }, house) => `resting force ${sayForce(resting_force_N, house)}`,
});

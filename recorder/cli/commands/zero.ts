import { zeroResultSchema } from "../../../protocol/requests/results.ts";
import { stationCommand } from "../ask-command.ts";
import { BY } from "../fields.ts";
import { sayForce } from "../quantities.ts";

export const command = stationCommand({
  verb: "zero",
  fields: { confirm: { field: "confirm", kind: "yes", help: "yes, the zero may move this far" }, ...BY },
  example: "tidemark zero leg-press",
  result: zeroResultSchema,
  say: ({ zero_shift_N }, house) => `zeroed: ${sayForce(zero_shift_N, house)} from the calibrated zero`,
});

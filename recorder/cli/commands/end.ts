import { endResultSchema } from "../../../protocol/requests/results.ts";
import { ENDED_BECAUSE } from "../../../protocol/vocabulary.ts";
import { stationCommand } from "../ask-command.ts";
import { BY } from "../fields.ts";

export const command = stationCommand({
  verb: "end",
  fields: {
    because: { field: "because", kind: "text", value: ENDED_BECAUSE.join("|"), help: "why it is ended" },
    ...BY,
  },
  example: "tidemark end leg-press --because pain",
  result: endResultSchema,
  say: ({ set_id, is_set, stop_reason }) =>
    is_set
      ? `the set is over (${stop_reason}); it is being kept: ${set_id}`
      : "disarmed: no set was begun, so none is kept",
});

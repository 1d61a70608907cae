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
  say: ({ set_id }) => (set_id === null ? "disarmed: no set was kept" : `ended: set ${set_id}`),
});

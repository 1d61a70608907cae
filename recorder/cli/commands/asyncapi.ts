import type { Command } from "../command.ts";

export const command: Command = {
  operands: [],
  flags: {},
  example: "tidemark asyncapi > asyncapi.json",
  run: async ({ terminal }) => {
    const { asyncapiDocument } = await import("../../tools/asyncapi.ts");
    terminal.out(JSON.stringify(asyncapiDocument(), null, 2));
    return 0;
  },
};

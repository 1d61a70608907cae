import type { z } from "zod";
import { tagSaveResultSchema, tagsResultSchema } from "../../../protocol/requests/results.ts";
import { sayInstant } from "../../drawing/instants.ts";
import { askAndSay, JSON_FLAG } from "../ask-command.ts";
import { type Command, textOf, wrongUsage } from "../command.ts";
import { BY, type Fields, flagsOf } from "../fields.ts";
import type { House } from "../quantities.ts";
import { SETTINGS_FLAGS } from "../settings.ts";
import { sayTable } from "../table.ts";

const LINK: Fields = {
  link: { field: "tag", kind: "text", value: "TAG", help: "link this tag to --trainee" },
  trainee: { field: "trainee", kind: "text", value: "CODE", help: "whom the tag is to stand for" },
};
const UNLINK: Fields = {
  unlink: { field: "tag", kind: "text", value: "TAG", help: "have this tag stand for its own code again" },
};

export const command: Command = {
  operands: [],
  flags: { ...flagsOf({ ...LINK, ...UNLINK, ...BY }), ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark tags --link band-0142 --trainee T-07",
  run: async (call) => {
    const [link, trainee, unlink] = ["link", "trainee", "unlink"].map((name) => textOf(call.flags, name));
    if ((link === undefined) !== (trainee === undefined)) return wrongUsage("--link and --trainee go together");
    if (link !== undefined && unlink !== undefined) return wrongUsage("link one tag or unlink one, not both at once");
    if (link === undefined && unlink === undefined) {
      if (call.flags["performed-by"] !== undefined) return wrongUsage("--performed-by goes with --link or --unlink");
      return askAndSay(call, { verb: "tags", fields: {}, given: {}, result: tagsResultSchema, say: sayTags });
    }
    const linking = link !== undefined;
    return askAndSay(call, {
      verb: "tag-save",
      fields: { ...(linking ? LINK : UNLINK), ...BY },
      given: linking ? {} : { trainee: null },
      result: tagSaveResultSchema,
      say: ({ tag, trainee: whose }) =>
        whose === null
          ? `${tag} is linked to nobody now and stands for its own code`
          : `${tag} stands for ${whose} now`,
    });
  },
};

function sayTags({ tags }: z.infer<typeof tagsResultSchema>, { time_zone }: House): string {
  if (tags.length === 0) return "no tag is linked: each stands for the trainee of its own code";
  const rows = tags.map(({ tag, trainee, linked_at, performed_by }) => [
    tag,
    trainee,
    sayInstant(linked_at, time_zone),
    performed_by ?? "-",
  ]);
  return sayTable([["tag", "trainee", "linked", "by"], ...rows]);
}

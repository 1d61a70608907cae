/** How a trainee's results go at a station: drawn, in figures, what of it is real, and the next dose as advice. */
import { trendResultSchema } from "../../../protocol/requests/trend.ts";
import { INTENTS, SIDES, STYLES } from "../../../protocol/vocabulary.ts";
import { trendPlot } from "../../drawing/trend-plot.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { ask } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type ExitCode, type Failure, textOf } from "../command.ts";
import { argsOf, type Fields, flagsOf } from "../fields.ts";
import { writeOut } from "../records/files.ts";
import { readSettings, SETTINGS_FLAGS } from "../settings.ts";
import { charactersFor } from "../terminal-characters.ts";
import { sayTrends } from "../trend/trend-text.ts";
import { DAYS, daysToInstants } from "../typed-days.ts";

const FIELDS: Fields = {
  side: { field: "side", kind: "text", value: SIDES.join("|"), help: "only of this side" },
  style: { field: "style", kind: "text", value: STYLES.join("|"), help: "only of this style" },
  exercise: { field: "exercise", kind: "text", value: "NAME", help: "only of this exercise" },
  intent: { field: "intent", kind: "text", value: INTENTS.join("|"), help: "only of this intent" },
  ...DAYS,
  limit: {
    field: "limit",
    kind: "number",
    value: "N",
    help: "show at most so many days of each, the newest; else 100",
  },
};

export const command: Command = {
  operands: ["STATION", "TRAINEE"],
  flags: {
    ...flagsOf(FIELDS),
    svg: {
      value: "FILE",
      help: "as a picture in a file of its own, one trend under the other; - is the standard output",
    },
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark trend leg-press T-07 --side left --svg trend.svg",
  run: trend,
};

async function trend(call: Call): Promise<ExitCode | Failure> {
  const { flags, terminal } = call;
  const [station, trainee] = call.operands;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const { house } = settings;
  const checked = argsOf("trend", FIELDS, daysToInstants(call, house).flags, { trainee, station });
  if ("exit" in checked) return checked;
  const reply = await ask({ path: settings.socket, verb: "trend", args: checked.args });
  if (!reply.ok) return reply.failure;
  const read = trendResultSchema.safeParse(reply.result);
  const file = textOf(flags, "svg");
  if (file !== undefined) {
    if (!read.success) {
      return {
        exit: DID_NOT_HOLD,
        message: "the recorder is of another version than this command: use the one beside it",
      };
    }
    const failure = await writeOut(file, trendPlot(read.data, house), terminal);
    if (failure !== null) return failure;
    if (file !== "-") terminal.out(`${trainee} at ${station} drawn in ${file}`);
    return 0;
  }
  // A recorder of another version may answer with more or less than we can put into words.
  if (flags["json"] === true || !read.success) terminal.out(JSON.stringify(reply.result));
  else {
    const drawn = charactersFor(terminal, process.env);
    terminal.out(sayTrends(read.data, { ...house, drawn, columns: terminal.columns() }));
  }
  return 0;
}

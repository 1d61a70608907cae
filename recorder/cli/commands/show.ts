/** One set: drawn and in figures, as a picture in a file, its readings as a table. */
import { z } from "zod";
import { type SetMessage, setSchema } from "../../../protocol/messages/set.ts";
import { setInCharacters } from "../../drawing/in-characters.ts";
import { setPlot } from "../../drawing/set-plot.ts";
import type { FloorSteps, SetCurve } from "../../drawing/set-plot-facts.ts";
import type { InputLog } from "../../ports.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { ask } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type ExitCode, type Failure, textOf, wrongUsage } from "../command.ts";
import { sentencesAt } from "../dialog/wrapped.ts";
import { argsOf } from "../fields.ts";
import { writeNew, writeOut } from "../records/files.ts";
import { curveCsv } from "../set-drawn/curve-csv.ts";
import { findSet } from "../set-drawn/find-set.ts";
import { saySet } from "../set-text.ts";
import { readSettings, SETTINGS_FLAGS, type Settings } from "../settings.ts";
import { charactersFor } from "../terminal-characters.ts";

export const command: Command = {
  operands: ["SET_ID"],
  flags: {
    svg: { value: "FILE", help: "the set as a picture in a file of its own; - is the standard output" },
    curve: { value: "FILE.csv", help: "force of every reading as a table, in s and N; - is the standard output" },
    ...JSON_FLAG,
    ...SETTINGS_FLAGS,
  },
  example: "tidemark show 019ab3c0-1111-7000-8000-000000000001 --svg set.svg",
  run: show,
};

/** What a recorder answers that stumbles over a set's readings. */
const UNREAD: ReadonlySet<string> = new Set(["storage", "internal"]);

const curveSchema = z.looseObject({ elapsed_s: z.array(z.number()), force_N: z.array(z.number().nullable()) });
const resultSchema = z.looseObject({
  set: setSchema,
  curve: curveSchema.optional(),
  log: z.custom<InputLog>((log) => typeof log === "object" && log !== null).optional(),
});
type Shown = z.infer<typeof resultSchema>;

async function show(call: Call): Promise<ExitCode | Failure> {
  const { flags, terminal } = call;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const files = ["svg", "curve"].filter((name) => flags[name] !== undefined);
  if (files.every((name) => flags[name] === "-") && files.length > 1) {
    return wrongUsage("--svg and --curve both to the standard output would make a file of neither: name one");
  }
  const found = await findSet(call.operands[0] as string, settings.socket);
  if (!found.ok) return found.failure;
  const checked = argsOf("set", {}, flags, { set_id: found.set_id });
  if ("exit" in checked) return checked;
  const json = flags["json"] === true;
  const question = { path: settings.socket, verb: "set", args: checked.args } as const;
  const drawn = files.length > 0 || !json;
  let reply = await ask(drawn ? { ...question, args: { ...checked.args, curve: true } } : question);
  // A set whose readings cannot be read any more still has its figures.
  if (!reply.ok && UNREAD.has(reply.failure.refusal?.code ?? "") && files.length === 0) {
    reply = await ask(question);
    if (reply.ok) terminal.error("its readings cannot be read, so it is not drawn: the recorder's log says why");
  }
  if (!reply.ok) return reply.failure;
  const result = resultSchema.safeParse(reply.result);
  if (files.length > 0) return result.success ? writeFiles(call, result.data, settings) : otherVersion();
  // A recorder of another version may answer with more or less than we can put into words.
  if (json || !result.success) terminal.out(JSON.stringify(reply.result));
  else terminal.out(await inWords(call, result.data, settings));
  return 0;
}

const otherVersion = (): Failure => ({
  exit: DID_NOT_HOLD,
  message: "the recorder is of another version than this command: use the one beside it",
});

async function floorOf({ set, log }: Shown): Promise<FloorSteps | null> {
  if (log === undefined) return null;
  const { floorSteps } = await import("../../run/floor-steps.ts");
  return floorSteps(set, log);
}

async function inWords({ terminal }: Call, shown: Shown, { house }: Settings): Promise<string> {
  const said = sentencesAt(saySet(shown.set, house), terminal.columns());
  if (shown.curve === undefined) return said;
  const options = { ...house, ...charactersFor(terminal, process.env), floor: await floorOf(shown) };
  return `${setInCharacters(shown.set, shown.curve, options)}\n\n${said}`;
}

async function writeFiles({ flags, terminal }: Call, shown: Shown, { house }: Settings): Promise<ExitCode | Failure> {
  const { set, curve } = shown;
  if (curve === undefined) return otherVersion();
  const svg = textOf(flags, "svg");
  const csv = textOf(flags, "curve");
  // What belongs to a file must stay alone where the file is the standard output.
  const say = svg === "-" || csv === "-" ? terminal.error : terminal.out;
  if (svg !== undefined) {
    const failure = await writeOut(svg, setPlot(set, curve, { ...house, floor: await floorOf(shown) }), terminal);
    if (failure !== null) return failure;
    if (svg !== "-") say(`set ${set.set_id} drawn in ${svg}`);
  }
  if (csv === undefined) return 0;
  if (csv === "-") terminal.write(curveCsv(curve));
  else {
    const failure = await writeNew(csv, curveCsv(curve));
    if (failure !== null) return failure;
    say(`${curve.elapsed_s.length} readings of set ${set.set_id} in ${csv}`);
  }
  for (const sentence of restingInIt(set, curve)) say(sentence);
  return 0;
}

function restingInIt({ resting_subtracted, resting_force_N }: SetMessage, { elapsed_s }: SetCurve): readonly string[] {
  if (!resting_subtracted || resting_force_N === null || elapsed_s.length === 0) return [];
  return [`these readings hold the resting force of ${resting_force_N} N, which the set's own figures leave out`];
}

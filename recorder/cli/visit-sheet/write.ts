/** Writes the sheet of a visit. */
import { instantOf, sayInstant } from "../../drawing/instants.ts";
import { chosenSets } from "../chosen-sets.ts";
import { type Call, DID_NOT_HOLD, type ExitCode, type Failure, textOf, wrongUsage } from "../command.ts";
import { writeNew } from "../records/files.ts";
import type { Settings } from "../settings.ts";
import { visitHtml } from "./html.ts";
import { askVisit } from "./visit.ts";

export async function writeVisitSheet(
  file: string,
  call: Call,
  { socket, house }: Settings,
): Promise<ExitCode | Failure> {
  const { flags, terminal } = call;
  const trainee = textOf(flags, "trainee");
  if (trainee === undefined) return wrongUsage("--sheet is of one person: give --trainee");
  const strange = ["from", "to", "limit"].find((name) => flags[name] !== undefined);
  if (strange !== undefined) return wrongUsage(`--sheet is of a whole day, so --${strange} has no place: give --day`);
  const day = textOf(flags, "day") ?? sayInstant(new Date().toISOString(), house.time_zone).slice(0, 10);
  const chosen = chosenSets({ ...call, flags: { ...flags, day } }, house);
  if ("exit" in chosen) return chosen;
  const ends_at = instantOf(day, house.time_zone, "end");
  const visit = await askVisit({ trainee, day, ends_at }, chosen, socket);
  if ("exit" in visit) return visit;
  if (visit.sets.length === 0) {
    return { exit: DID_NOT_HOLD, message: `no set of ${trainee} on ${day} is kept that fits, so there is no sheet` };
  }
  const html = visitHtml(visit, house);
  if (file === "-") {
    terminal.write(html);
    return 0;
  }
  const failure = await writeNew(file, html);
  if (failure !== null) return failure;
  const count = visit.sets.length;
  terminal.out(`${count === 1 ? "1 set" : `${count} sets`} of ${trainee} on ${day} in ${file}`);
  return 0;
}

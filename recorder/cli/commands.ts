/** The one table of commands. A command's module is loaded only when it is asked for. */
import type { Command } from "./command.ts";

export interface Entry {
  readonly summary: string;
  readonly load: () => Promise<{ readonly command: Command }>;
}

export const COMMANDS: Readonly<Record<string, Entry>> = {
  run: { summary: "run the recorder", load: () => import("./commands/run.ts") },
  begin: { summary: "arm a set", load: () => import("./commands/begin.ts") },
  end: { summary: "end a set, or disarm", load: () => import("./commands/end.ts") },
  zero: { summary: "take the zero, with nothing on the machine", load: () => import("./commands/zero.ts") },
  resting: { summary: "take the resting force, the trainee in place", load: () => import("./commands/resting.ts") },
  watch: { summary: "live values, here in the terminal", load: () => import("./commands/watch.ts") },
  sets: { summary: "list kept sets", load: () => import("./commands/sets.ts") },
  show: {
    summary: "show one set; eight characters of its id or more will do",
    load: () => import("./commands/show.ts"),
  },
  trend: {
    summary: "how a trainee's results go here, what is real, and what next",
    load: () => import("./commands/trend.ts"),
  },
  amend: { summary: "set right what is kept of a set", load: () => import("./commands/amend.ts") },
  plan: { summary: "show a trainee's plan at a station, or save one", load: () => import("./commands/plan.ts") },
  tags: { summary: "list tags, link one to a trainee or unlink it", load: () => import("./commands/tags.ts") },
  replay: { summary: "judge kept sets again, with other settings", load: () => import("./commands/replay.ts") },
  calibrate: { summary: "calibrate a station, guided or step by step", load: () => import("./commands/calibrate.ts") },
  "check-loads": {
    summary: "hang known loads to see whether a calibration still holds",
    load: () => import("./commands/check-loads.ts"),
  },
  calibrations: { summary: "list a station's calibrations", load: () => import("./commands/calibrations.ts") },
  "self-test": {
    summary: "look at sensors, ports, box and broker, and say what would do",
    load: () => import("./commands/self-test.ts"),
  },
  "serial-ports": {
    summary: "list the serial ports of this machine, and what to call them",
    load: () => import("./commands/serial-ports.ts"),
  },
  inspected: {
    summary: "say that an overloaded load path was inspected",
    load: () => import("./commands/inspected.ts"),
  },
  export: { summary: "write what is kept into a file", load: () => import("./commands/export.ts") },
  import: { summary: "take in a file that export wrote", load: () => import("./commands/import.ts") },
  backup: { summary: "copy the whole record while it is in use", load: () => import("./commands/backup.ts") },
  restore: { summary: "put a backup in the place of the record", load: () => import("./commands/restore.ts") },
  erase: { summary: "erase one trainee from everything kept here", load: () => import("./commands/erase.ts") },
  asyncapi: { summary: "print the AsyncAPI document", load: () => import("./commands/asyncapi.ts") },
};

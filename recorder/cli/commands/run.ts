import { DEFAULT_CONFIGURATION_FILE, readConfiguration, sayFaults } from "../../configuration/read.ts";
import {
  BAD_CONFIGURATION,
  type Call,
  type Command,
  type ExitCode,
  type Failure,
  textOf,
  wrongUsage,
} from "../command.ts";
import type { House } from "../quantities.ts";
import { picture } from "./watch.ts";

const NEWTONS: House = { unit: "N", time_zone: "UTC" };

export const command: Command = {
  operands: [],
  flags: {
    config: { value: "FILE", help: `the configuration, else ${DEFAULT_CONFIGURATION_FILE}` },
    simulate: { help: "a simulated gym: no hardware, no broker and no configuration needed" },
    once: { help: "simulated: one set a station as fast as it can, then end" },
  },
  example: "tidemark run --simulate",
  run,
};

async function run({ flags, terminal }: Call): Promise<ExitCode | Failure> {
  const named = textOf(flags, "config");
  const simulate = flags["simulate"] === true;
  const once = flags["once"] === true;
  const debug = flags["debug"] === true;
  if (once && !simulate) return wrongUsage("--once is for a simulated gym: add --simulate");
  if (simulate && named !== undefined) return wrongUsage("--simulate brings its own configuration: leave out --config");
  const shared = { once, debug, ...picture(terminal, NEWTONS), stopped: terminal.interrupted() };
  if (simulate) return (await loadService())({ ...shared, configuration: null });

  const file = named ?? DEFAULT_CONFIGURATION_FILE;
  const read = readConfiguration(file);
  if (!read.ok) return { exit: BAD_CONFIGURATION, message: sayFaults(file, read.faults) };
  for (const warning of read.warnings) terminal.error(`mind: ${warning}`);
  return (await loadService())({ ...shared, say: terminal.error, configuration: read.configuration });
}

/** Loaded only when it runs: every other command is quicker without it. */
const loadService = async () => (await import("../../run/run.ts")).runService;

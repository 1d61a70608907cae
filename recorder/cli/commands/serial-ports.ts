/** What serial ports are here, what to call them in the configuration, and which station uses which. */
import { userInfo } from "node:os";
import { DEFAULT_CONFIGURATION_FILE, readConfiguration, sayFaults } from "../../configuration/read.ts";
import type { StationConfiguration } from "../../configuration/schema.ts";
import { adviceOn, bestPath } from "../../serial/port-advice.ts";
import { deviceOf, type ListedPort, listSerialPorts } from "../../serial/port-list.ts";
import { JSON_FLAG } from "../ask-command.ts";
import {
  BAD_CONFIGURATION,
  type Call,
  type Command,
  type ExitCode,
  type Failure,
  type Flags,
  type FlagValues,
  textOf,
} from "../command.ts";

const CONFIG_FLAG: Flags = {
  config: { value: "FILE", help: `the configuration whose stations are named, else ${DEFAULT_CONFIGURATION_FILE}` },
};

/** `root` is where the file system is looked for. */
export const serialPortsUnder = (root: string): Command => ({
  operands: [],
  flags: { ...CONFIG_FLAG, ...JSON_FLAG },
  example: "tidemark serial-ports",
  run: (call) => list(call, root),
});

export const command = serialPortsUnder("/");

interface Shown extends ListedPort {
  /** What to write as `serial_port`. */
  readonly serial_port: string;
  readonly stations: readonly string[];
  readonly advice: readonly string[];
}

async function list({ flags, terminal }: Call, root: string): Promise<ExitCode | Failure> {
  const stations = stationsOf(flags);
  if ("exit" in stations) return stations;
  const used = await Promise.all(
    stations.map(async ({ id, serial_port }) => ({ id, serial_port, device: await deviceOf(serial_port, root) })),
  );
  const user = userInfo().username;
  const ports = (await listSerialPorts(root)).map((port): Shown => {
    const users = used.filter(({ device }) => device === port.device);
    const advice = adviceOn(port, user, users[0]?.serial_port ?? null);
    if (users.length > 1) advice.push("more than one station uses it: give each its own adapter.");
    return { ...port, serial_port: bestPath(port), stations: users.map(({ id }) => id), advice };
  });
  const missing = used.flatMap(({ id, serial_port, device }) =>
    device === null ? [{ station: id, serial_port }] : [],
  );
  if (flags["json"] === true) {
    terminal.out(JSON.stringify({ ports, missing }));
    return 0;
  }
  for (const port of ports) terminal.out(sayPort(port));
  if (ports.length === 0) terminal.out("there is no serial port here: plug an adapter in");
  for (const { station, serial_port } of missing)
    terminal.error(`mind: the station ${station} wants ${serial_port}, which is not there`);
  return 0;
}

/** A configuration that is named must be good; without one the ports alone are listed. */
function stationsOf(flags: FlagValues): readonly StationConfiguration[] | Failure {
  const named = textOf(flags, "config");
  const read = readConfiguration(named ?? DEFAULT_CONFIGURATION_FILE, () => ({ ok: true, secret: "" }));
  if (read.ok) return read.configuration.station;
  return named === undefined ? [] : { exit: BAD_CONFIGURATION, message: sayFaults(named, read.faults) };
}

function sayPort(port: Shown): string {
  const { device, usb, driver, serial_port, stations, held_by, group, mode, advice } = port;
  const what = usb === null ? [] : [`USB ${usb.vendor}:${usb.product}`, usb.name, usb.serial];
  const facts = [...what, driver, `${group} ${mode}`].filter((fact) => fact !== null);
  const lines = [`serial_port = ${JSON.stringify(serial_port)}`];
  for (const station of stations) lines.push(`station ${station}`);
  if (held_by !== null) lines.push(`in use by process ${held_by}`);
  for (const sentence of advice) lines.push(`mind: ${sentence}`);
  return [`${device}  ${facts.join(", ")}`, ...lines.map((line) => `  ${line}`)].join("\n");
}

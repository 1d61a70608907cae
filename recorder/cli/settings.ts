/** What a command needs to know of the configuration to talk to the recorder and to people. */
import { DEFAULT_CONFIGURATION_FILE, readConfiguration, sayFaults } from "../configuration/read.ts";
import { DEFAULT_SOCKETS } from "../configuration/schema.ts";
import { BAD_CONFIGURATION, type Failure, type Flags, type FlagValues, textOf } from "./command.ts";
import type { House } from "./quantities.ts";

export interface Settings {
  /** Paths. */
  readonly socket: string;
  readonly service_socket: string;
  readonly house: House;
}

/** The flags that decide them. */
export const SETTINGS_FLAGS: Flags = {
  config: { value: "FILE", help: `the configuration, else ${DEFAULT_CONFIGURATION_FILE}` },
  socket: { value: "PATH", help: "the recorder's control socket, else the configured one" },
};

/**
 * A configuration that is named must be good. One that merely lies in the usual place may be missing, unreadable for
 * this user or half edited: the recorder runs on what it read at its start, so the usual paths and newtons will do.
 */
export function readSettings(flags: FlagValues): Settings | Failure {
  const named = textOf(flags, "config");
  // Asking for a value on the screen needs no password, and who asks may not be allowed to read it.
  const read = readConfiguration(named ?? DEFAULT_CONFIGURATION_FILE, () => ({ ok: true, secret: "" }));
  if (!read.ok && named !== undefined) return { exit: BAD_CONFIGURATION, message: sayFaults(named, read.faults) };
  const sockets = read.ok ? read.configuration.control : DEFAULT_SOCKETS;
  const path = textOf(flags, "socket");
  return {
    socket: path ?? sockets.socket,
    service_socket: path ?? sockets.service_socket,
    house: read.ok
      ? { unit: read.configuration.display_unit, time_zone: read.configuration.time_zone }
      : { unit: "N", time_zone: "UTC" },
  };
}

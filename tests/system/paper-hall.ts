/** The configuration and the calibrations of a recorder that is started as a process: knee stations of the simulated gym. */
import { randomUUID } from "node:crypto";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import type { Configuration } from "../../recorder/configuration/schema.ts";
import { calibrationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { openStore } from "../../recorder/store/store.ts";

/** Users of the broker and what they may do. */
export const USERS = { recorder: "r-secret", display: "d-secret" } as const;
export const ACL = "user recorder\ntopic readwrite tidemark/#\nuser display\ntopic read tidemark/#\n";

export interface PaperStation {
  readonly id: string;
  readonly serial_port: string;
  readonly board: string;
  /** Further lines of its table. */
  readonly more?: string;
}

export interface PaperHall {
  readonly folder: string;
  readonly store: string;
  readonly control: { readonly socket: string; readonly service_socket: string };
  /** Of a broker on loopback; null: the recorder's own. */
  readonly broker_port: number | null;
  readonly stations: readonly PaperStation[];
}

/** Writes `tidemark.toml` into the folder, and the password of the recorder's user where there is a broker. */
export function writeHall({ folder, store, control, broker_port, stations }: PaperHall): void {
  const password_file = join(folder, "password");
  if (broker_port !== null) writeFileSync(password_file, `${USERS.recorder}\n`, { mode: 0o600 });
  const broker =
    broker_port === null
      ? "embedded_broker = { port = 0 }"
      : `broker = { url = "mqtt://127.0.0.1:${broker_port}", username = "recorder", password_file = "${password_file}" }`;
  writeFileSync(
    join(folder, "tidemark.toml"),
    `site = "paper-hall"
recorder = "paper-box"
${broker}
store = { path = "${store}" }
control = { socket = "${control.socket}", service_socket = "${control.service_socket}" }
${stations.map(stationText).join("")}`,
  );
}

const stationText = ({ id, serial_port, board, more = "" }: PaperStation): string => `
[[station]]
id = "${id}"
exercise = "knee-extension"
serial_port = "${serial_port}"
board = "${board}"
resistance = "locked"
cell_capacity_N = 2000
force_limit_N = 1500
working_force_N = 500
latitude_deg = 52.0
style = "hold"
${more}
`;

/** Calibrates every station of the gym, in a store nobody has open. */
export async function calibrateHall(hall: Configuration, seed: number): Promise<void> {
  const store = await openStore({ path: hall.store.path });
  const when = { now_ms: Date.now(), days_ago: 3, ids: hall.station.map(() => randomUUID()) };
  for (const record of calibrationsOf(hall, when, seed)) await store.saveCalibration(record);
  await store.close();
}

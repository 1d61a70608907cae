/**
 * What is wrong with a port, in one sentence that says what would do. Pure: what must be looked up comes along.
 *
 * The bindings give most errors as text without a code (serialport 13 on Linux: "Error: Permission denied, cannot open
 * /dev/ttyUSB0", "Error Resource temporarily unavailable Cannot lock port"), so both are looked at.
 */
import { MOST_BYTES_PER_S } from "./intake.ts";
import { BAUD_RATE } from "./settings.ts";

export interface PortFacts {
  readonly path: string;
  /** The account the recorder runs under. */
  readonly user: string;
  /** Of the node the path leads to; null where there is none. */
  readonly node: { readonly group: string; readonly mode: number } | null;
}

const GROUP_READS_AND_WRITES = 0o060;

export function openTrouble(error: unknown, facts: PortFacts): string {
  const { path } = facts;
  const text = textOf(error);
  if (/ENOENT|No such file/i.test(text)) {
    return `${path} is not there: plug the board in, or name the link it has under /dev/serial/by-id; retrying.`;
  }
  if (/EACCES|EPERM|Permission denied|Operation not permitted/i.test(text)) return permissionTrouble(facts);
  if (/EBUSY|EAGAIN|Cannot lock port|Resource busy|temporarily unavailable/i.test(text)) {
    return `${path} is in use by another program: \`sudo fuser -v ${path}\` names it (often a modem manager or a second recorder); retrying.`;
  }
  if (/ENOTTY|Inappropriate ioctl|Is a directory|EISDIR/i.test(text)) {
    return `${path} is not a serial port: set serial_port to one, by its link under /dev/serial/by-id; retrying.`;
  }
  if (/ENXIO|ENODEV|EIO|No such device|Input\/output error/i.test(text)) {
    return `${path} is there but its device is gone: unplug the adapter and plug it in again; retrying.`;
  }
  return `${path} cannot be opened (${text}): check the adapter and its cable; retrying.`;
}

/** The account is not let in: the group that would do, where one would, and the command. */
export function permissionTrouble({ path, user, node }: PortFacts): string {
  if (node === null) return `${path} may not be opened by ${user}: let it look into the folder; retrying.`;
  const { group, mode } = node;
  if ((mode & GROUP_READS_AND_WRITES) === GROUP_READS_AND_WRITES && group !== "root") {
    return `${path} may not be opened by ${user}: it belongs to the group ${group}; run \`sudo usermod -aG ${group} ${user}\` and restart the recorder.`;
  }
  const octal = (mode & 0o777).toString(8).padStart(4, "0");
  return `${path} may not be opened by ${user}: group ${group} and mode ${octal} of it do not let that account in; run \`sudo chgrp dialout ${path} && sudo chmod 0660 ${path}\` and make that a udev rule.`;
}

/** Two stations lead to one device. */
export function sharedTrouble(path: string, other: string): string {
  return `${path} leads to the same device as ${other}, which another station has open: give each station the link of its own adapter; retrying.`;
}

/** The port went away while it was open. `error` null: it was closed at the far end. */
export function lostTrouble(path: string, error: unknown): string {
  const why = error === null || error === undefined ? "closed at the far end" : textOf(error);
  return `${path} went away (${why}): check the plug; retrying.`;
}

export function stalledTrouble(path: string, quiet_ms: number): string {
  return `${path} fell silent for ${(quiet_ms / 1000).toFixed(1)} s: check the board and its cable; opening it again.`;
}

export function nothingTrouble(path: string): string {
  return `${path} is open but nothing has come in 5 s: check that the board runs, that it speaks at ${BAUD_RATE} baud, the cable (some only charge), and that the board is content with DTR as the port sets it.`;
}

export function garbledTrouble(path: string): string {
  return `${path} sends bytes that are not text: wrong baud rate? The board must speak at ${BAUD_RATE}.`;
}

export function floodTrouble(path: string): string {
  return `${path} sends more than ${MOST_BYTES_PER_S / 1000} kB/s, far more than a board has to say: look at what is on this line; the rest waits.`;
}

function textOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const { code } = error as NodeJS.ErrnoException;
  const message = error.message.replace(/^Error:? */, "");
  return code === undefined || message.includes(code) ? message : `${code}: ${message}`;
}

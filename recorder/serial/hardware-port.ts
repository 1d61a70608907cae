/**
 * Opens a serial port of this machine, at 115200 8N1, as a plain stream of bytes that is closed by destroying it.
 *
 * The path is resolved at every open: a link under /dev/serial/by-id leads elsewhere after a replug. The port is locked
 * against a second opener, and two links to one device are told apart from a stranger who has it. `hupcl: false`: closing does not drop DTR, which restarts many boards.
 */
import { realpath, stat } from "node:fs/promises";
import { userInfo } from "node:os";
import type { Duplex } from "node:stream";
import type { SerialPort } from "serialport";
import { groupName } from "./groups.ts";
import { BAUD_RATE } from "./settings.ts";
import { openTrouble, type PortFacts, sharedTrouble } from "./trouble.ts";

/** The devices this process has open, each with the path it was opened by. */
const openedBy = new Map<string, string>();

/** Rejects with one sentence that says what would do. */
export async function openHardwarePort(path: string): Promise<Duplex> {
  let holder: string | undefined;
  try {
    const device = await realpath(path);
    holder = openedBy.get(device);
    if (holder === undefined || holder === path) return await openAt(device, path);
  } catch (error) {
    throw new Error(openTrouble(error, await factsAbout(path)), { cause: error });
  }
  throw new Error(sharedTrouble(path, holder));
}

async function openAt(device: string, path: string): Promise<Duplex> {
  // Loaded when a port is first opened: a run without hardware needs no native code.
  const { SerialPort } = await import("serialport");
  const port = new SerialPort({
    path: device,
    baudRate: BAUD_RATE,
    dataBits: 8,
    parity: "none",
    stopBits: 1,
    rtscts: false,
    xon: false,
    xoff: false,
    hupcl: false,
    lock: true,
    autoOpen: false,
  });
  port._destroy = (error, done) => (port.isOpen ? port.close(() => done(error)) : done(error));
  await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
  openedBy.set(device, path);
  port.once("close", () => openedBy.delete(device));
  assertControlLines(port);
  return port;
}

/** Some boards say nothing without DTR. A pty has no control lines and answers ENOTTY, which is no reason to give up. */
function assertControlLines(port: SerialPort): void {
  port.set({ dtr: true, rts: true }, () => {});
}

async function factsAbout(path: string): Promise<PortFacts> {
  const user = userInfo().username;
  try {
    const { gid, mode } = await stat(path);
    return { path, user, node: { group: await groupName(gid), mode } };
  } catch {
    return { path, user, node: null };
  }
}

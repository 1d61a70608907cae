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

/** The devices this process has open or is opening, each with the path it was opened by. */
const heldBy = new Map<string, { readonly path: string }>();

/** Rejects with one sentence that says what would do. */
export async function openHardwarePort(path: string): Promise<Duplex> {
  let holder: string | undefined;
  try {
    // Loaded when a port is first opened, since a run without hardware needs no native code; before the path is resolved,
    // since another device may stand at the end of it by the time that is done.
    const { SerialPort } = await import("serialport");
    const device = await realpath(path);
    holder = heldBy.get(device)?.path;
    if (holder === undefined || holder === path) return await openAt(SerialPort, device, path);
  } catch (error) {
    throw new Error(openTrouble(error, await factsAbout(path)), { cause: error });
  }
  throw new Error(sharedTrouble(path, holder));
}

async function openAt(Port: typeof SerialPort, device: string, path: string): Promise<Duplex> {
  const port = new Port({
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
  // Held before it is open, so that of two links opened in one moment only one gets as far as the lock.
  const hold = { path };
  heldBy.set(device, hold);
  // A port closed late leaves alone what has been opened at its device since.
  const letGo = (): boolean => heldBy.get(device) === hold && heldBy.delete(device);
  try {
    await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
  } catch (error) {
    letGo();
    throw error;
  }
  port.once("close", letGo);
  // A replug while it was being opened: the link leads elsewhere by now, and what is open may be another station's.
  if ((await realpath(path).catch(() => null)) !== device) {
    await new Promise((resolve) => port.once("close", resolve).destroy());
    throw new Error("it was plugged in again while it was being opened");
  }
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

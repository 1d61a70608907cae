/**
 * What else on this machine has to do with one port: how its adapter is set, and which programs may speak on it. It runs no
 * other program and opens no port.
 *
 * Sources: `latency_timer` of the kernel's ftdi_sio, `power/control` of Documentation/ABI/testing/sysfs-devices-power,
 * `console/active` of sysfs-tty, proc_pid_stat(5) for a process's terminal. Whether the modem manager was told to keep away
 * (ID_MM_DEVICE_IGNORE, ID_MM_PORT_IGNORE) stands in udev's own notes under /run/udev/data.
 */
import { readdir, readFile } from "node:fs/promises";
import { basename, join } from "node:path";
import { deviceOf, type ListedPort, listSerialPorts } from "./port-list.ts";

export interface Program {
  readonly pid: number;
  /** Its first 15 letters, as the kernel keeps it. */
  readonly name: string;
}

export interface PortSurroundings {
  /** As the configuration calls it. */
  readonly path: string;
  /** Its node; null: the path leads nowhere. */
  readonly device: string | null;
  /** null: none of this machine's serial ports, a pseudo-terminal for one. */
  readonly port: ListedPort | null;
  /** How long the adapter gathers bytes before it hands them on, ms; null: it has no such setting, or it is not shown. */
  readonly latency_timer_ms: number | null;
  /** The adapter may be put to sleep while it is quiet; null: not on USB. */
  readonly may_sleep: boolean | null;
  /** The kernel writes its own messages to this port. */
  readonly is_console: boolean;
  /** Programs whose terminal this port is: a login, a shell. */
  readonly terminal_of: readonly Program[];
  /** The modem manager was told to keep away from it. */
  readonly no_modem: boolean;
  /** Running programs that are known to try ports that are not theirs. */
  readonly meddlers: readonly Program[];
}

/** What tries every new port, or takes adapters of common makes for something else (common practice, no source). */
const MEDDLERS = ["ModemManager", "brltty"];

/** `root` is where the file system is looked for: / but in tests. */
export async function surroundingsOf(path: string, root = "/"): Promise<PortSurroundings> {
  const device = await deviceOf(path, root);
  const programs = await programsUnder(root);
  const meddlers = programs.filter(({ name }) => MEDDLERS.includes(name)).map(asProgram);
  const name = device === null ? null : basename(device);
  if (name === null) return { ...UNSEEN, path, device, meddlers };
  const ports = await listSerialPorts(root);
  const sys = join(root, "sys/class/tty", name);
  const number = deviceNumber(await textOf(join(sys, "dev")));
  const usb = await usbFolder(join(sys, "device"));
  const latency = await textOf(join(sys, "device/latency_timer"));
  const control = usb === null ? null : await textOf(`${usb}/power/control`);
  const active = (await textOf(join(root, "sys/class/tty/console/active"))) ?? "";
  return {
    path,
    device,
    port: ports.find((port) => port.device === device) ?? null,
    latency_timer_ms: latency === null || !/^\d+$/.test(latency) ? null : Number(latency),
    may_sleep: control === null ? null : control === "auto",
    is_console: active.split(/\s+/).includes(name),
    terminal_of: programs.filter(({ terminal }) => number !== null && terminal === number).map(asProgram),
    no_modem: await keepsModemsAway(root, [sys, ...(usb === null ? [] : [usb])]),
    meddlers,
  };
}

const UNSEEN = {
  port: null,
  latency_timer_ms: null,
  may_sleep: null,
  is_console: false,
  terminal_of: [],
  no_modem: false,
} as const;

interface Running extends Program {
  /** Number of its controlling terminal; 0: none. */
  readonly terminal: number;
}

const asProgram = ({ pid, name }: Running): Program => ({ pid, name });

async function programsUnder(root: string): Promise<Running[]> {
  const pids = (await readdir(join(root, "proc")).catch(() => [])).filter((name) => /^\d+$/.test(name));
  const found = await Promise.all(pids.map((pid) => textOf(join(root, "proc", pid, "stat"))));
  return found.flatMap((text) => {
    // The name may hold anything, even a bracket: the last one ends it.
    const [, pid, name, rest] = /^(\d+) \((.*)\) (.*)$/s.exec(text ?? "") ?? [];
    if (pid === undefined || name === undefined || rest === undefined) return [];
    return [{ pid: Number(pid), name, terminal: Number(rest.split(" ")[4] ?? 0) }];
  });
}

/** `188:0` as tty_nr has it: minor in bits 31 to 20 and 7 to 0, major in 15 to 8. */
function deviceNumber(text: string | null): number | null {
  const [, major, minor] = /^(\d+):(\d+)$/.exec(text ?? "") ?? [];
  if (major === undefined || minor === undefined) return null;
  return ((Number(minor) & ~0xff) << 12) | (Number(major) << 8) | (Number(minor) & 0xff);
}

/** Up from the port to the USB device it is part of. Not joined: the kernel follows the link before it goes up. */
async function usbFolder(device: string): Promise<string | null> {
  for (const up of ["..", "../..", "../../.."]) {
    const folder = `${device}/${up}`;
    if ((await textOf(`${folder}/idVendor`)) !== null) return folder;
  }
  return null;
}

async function keepsModemsAway(root: string, devices: readonly string[]): Promise<boolean> {
  for (const device of devices) {
    const number = await textOf(`${device}/dev`);
    const notes = number === null ? null : await textOf(join(root, "run/udev/data", `c${number}`));
    if (/^E:ID_MM_(DEVICE|PORT)_IGNORE=1$/m.test(notes ?? "")) return true;
  }
  return false;
}

const textOf = (path: string): Promise<string | null> =>
  readFile(path, "utf8").then(
    (text) => text.trim(),
    () => null,
  );

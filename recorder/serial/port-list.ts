/**
 * The serial ports of this machine, as the files of Linux tell: /dev, /dev/serial, /sys/class/tty and /proc/locks. It asks no
 * other program and opens no port. The serial library's own list runs `udevadm` and fails where that is not installed
 * (serialport/node-serialport#2185).
 *
 * Sources: the kernel's Documentation/ABI/testing/sysfs-tty (`type`) and sysfs-bus-usb (`idVendor` and its neighbours),
 * proc_locks(5), and udev's 60-serial.rules for the links.
 */
import { constants } from "node:fs";
import { access, readdir, readFile, realpath, stat } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import { groupName } from "./groups.ts";

export interface UsbFacts {
  /** Four hex digits. */
  readonly vendor: string;
  readonly product: string;
  /** As the adapter calls itself; null: it does not. */
  readonly name: string | null;
  readonly serial: string | null;
}

export interface ListedPort {
  /** Its node, such as /dev/ttyUSB0. The kernel numbers those in the order in which they appear. */
  readonly device: string;
  /** Links that stay: by what the adapter is, and by where it is plugged in. */
  readonly by_id: readonly string[];
  readonly by_path: readonly string[];
  /** null: not on USB. */
  readonly usb: UsbFacts | null;
  readonly driver: string | null;
  /** Who may open the node; `mode` in octal. */
  readonly group: string;
  readonly mode: string;
  /** Whether whoever asks may. */
  readonly may_open: boolean;
  /** The process that has it locked, as the recorder does; null: none that can be seen. */
  readonly held_by: number | null;
  /** Nodes of other adapters that would have the same name under /dev/serial/by-id: it leads to only one of them. */
  readonly same_name: readonly string[];
}

const PORT = /^tty(USB|ACM|AMA|S)(\d+)$/;
/** serial_core.h: PORT_UNKNOWN. Many kernels make four ttyS whether there are any or not. */
const NO_UART = "0";

/** In the order of their nodes. `root` is where the file system is looked for: / but in tests. */
export async function listSerialPorts(root = "/"): Promise<ListedPort[]> {
  const nodes = (await namesIn(join(root, "dev"))).filter((name) => PORT.test(name)).sort(byKindAndNumber);
  const links = { by_id: await linksIn(root, "by-id"), by_path: await linksIn(root, "by-path") };
  const locks = (await textOf(join(root, "proc/locks"))) ?? "";
  const found = await Promise.all(nodes.map((name) => portOf(root, name, links, locks)));
  const ports = found.filter((port) => port !== null);
  return ports.map(({ port, identity, adapter }) => {
    const twins = ports.filter((other) => other.identity === identity && other.adapter !== adapter);
    return { ...port, same_name: identity === null ? [] : twins.map(({ port: { device } }) => device) };
  });
}

/** Where a path of the configuration leads, as a node; null: nowhere. */
export async function deviceOf(path: string, root = "/"): Promise<string | null> {
  const [under, found] = [await resolved(root), await resolved(join(root, path))];
  if (under === null || found === null) return null;
  return join("/", found.slice(under.length));
}

interface Found {
  readonly port: Omit<ListedPort, "same_name">;
  /** What its name under by-id is made of; null: not on USB. */
  readonly identity: string | null;
  /** The USB device it is part of: one may have several ports, which by-id tells apart. */
  readonly adapter: string | null;
}

type Links = Readonly<Record<"by_id" | "by_path", readonly Link[]>>;
type Link = readonly [path: string, node: string];

async function portOf(root: string, name: string, links: Links, locks: string): Promise<Found | null> {
  const sys = join(root, "sys/class/tty", name);
  if (/^ttyS/.test(name) && ((await textOf(join(sys, "type"))) ?? NO_UART) === NO_UART) return null;
  const node = join(root, "dev", name);
  const [status, folders] = [await stat(node).catch(() => null), await foldersAbove(root, join(sys, "device"))];
  // Unplugged since its name was read.
  if (status === null) return null;
  const leading = (to: readonly Link[]): string[] => to.flatMap(([path, leads]) => (leads === name ? [path] : []));
  const usb = await usbOf(folders);
  const port = {
    device: join("/dev", name),
    by_id: leading(links.by_id),
    by_path: leading(links.by_path),
    usb: usb?.facts ?? null,
    driver: await driverOf(folders),
    group: await groupName(status.gid, root),
    mode: (status.mode & 0o777).toString(8).padStart(4, "0"),
    may_open: await mayOpen(node),
    held_by: holderOf(status, locks),
  };
  return { port, identity: usb?.identity ?? null, adapter: usb?.folder ?? null };
}

/** The device of the port, the interface or controller it is on, and so on up to the bus. */
async function foldersAbove(root: string, device: string): Promise<string[]> {
  const [top, first] = [await resolved(join(root, "sys")), await resolved(device)];
  const folders: string[] = [];
  if (top === null) return folders;
  for (let folder = first; folder?.startsWith(`${top}/`); folder = dirname(folder)) folders.push(folder);
  return folders;
}

async function usbOf(folders: readonly string[]) {
  const folder = await folderWith(folders, "idVendor");
  if (folder === null) return null;
  const own = (name: string): Promise<string | null> => textOf(join(folder, name));
  const facts: UsbFacts = {
    vendor: (await own("idVendor")) ?? "",
    product: (await own("idProduct")) ?? "",
    name: await own("product"),
    serial: await own("serial"),
  };
  const part = await Promise.all(["bInterfaceNumber", "port_number"].map((name) => nearest(folders, name)));
  return { facts, folder, identity: JSON.stringify([facts, part]) };
}

async function folderWith(folders: readonly string[], name: string): Promise<string | null> {
  for (const folder of folders) if ((await textOf(join(folder, name))) !== null) return folder;
  return null;
}

async function nearest(folders: readonly string[], name: string): Promise<string | null> {
  const folder = await folderWith(folders, name);
  return folder === null ? null : textOf(join(folder, name));
}

/** Of the port itself, else of what it is on; newer kernels put a bus of their own in between. */
async function driverOf(folders: readonly string[]): Promise<string | null> {
  for (const folder of folders) {
    const driver = await resolved(join(folder, "driver"));
    if (driver !== null && !driver.includes("/serial-base/")) return basename(driver);
  }
  return null;
}

/** `major:minor:inode` of the file system the node is on, the first two in hex; glibc's makedev(3) says where they stand. */
function holderOf({ dev, ino }: { readonly dev: number; readonly ino: number }, locks: string): number | null {
  const hex = (value: number): string => value.toString(16).padStart(2, "0");
  const place = `${hex((dev >>> 8) & 0xfff)}:${hex((dev & 0xff) | ((dev >>> 12) & 0xfff00))}:${ino}`;
  for (const line of locks.split("\n")) {
    const [, kind, , , pid, at] = line.trim().split(/\s+/);
    if (kind === "FLOCK" && at === place) return Number(pid);
  }
  return null;
}

async function linksIn(root: string, folder: "by-id" | "by-path"): Promise<Link[]> {
  const names = (await namesIn(join(root, "dev/serial", folder))).sort();
  const links = names.map(async (name): Promise<Link> => {
    const path = join("/dev/serial", folder, name);
    return [path, basename((await deviceOf(path, root)) ?? "")];
  });
  return Promise.all(links);
}

function byKindAndNumber(a: string, b: string): number {
  const [, kind_a = "", number_a] = PORT.exec(a) ?? [];
  const [, kind_b = "", number_b] = PORT.exec(b) ?? [];
  return kind_a === kind_b ? Number(number_a) - Number(number_b) : kind_a < kind_b ? -1 : 1;
}

const mayOpen = (node: string): Promise<boolean> =>
  access(node, constants.R_OK | constants.W_OK).then(
    () => true,
    () => false,
  );

/** What is not there, or may not be read, is not known. */
const resolved = (path: string): Promise<string | null> => realpath(path).catch(() => null);
const namesIn = (folder: string): Promise<string[]> => readdir(folder).catch(() => []);
const textOf = (path: string): Promise<string | null> =>
  readFile(path, "utf8").then(
    (text) => text.trim(),
    () => null,
  );

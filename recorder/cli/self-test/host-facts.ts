/**
 * What the box says of itself, as its files tell: it asks no other program. What is not there is not known.
 *
 * Sources: proc_meminfo(5), proc_loadavg(5), proc_pid_mounts(5); the kernel's Documentation/hwmon/raspberrypi-hwmon for
 * `in0_lcrit_alarm`, and ABI/testing/sysfs-class-thermal for `temp`, in thousandths of a degree Celsius.
 */
import { readdir, readFile, realpath } from "node:fs/promises";
import { availableParallelism } from "node:os";
import { dirname, join } from "node:path";
import { freeBytes } from "../../run/disk.ts";
import { volatileDisk } from "../../run/volatile-disk.ts";

export interface HostFacts {
  /** As `20.19.0`. */
  readonly node_version: string;
  readonly memory: { readonly total_bytes: number; readonly available_bytes: number } | null;
  /** Mean number of processes that ran or wanted to, over five minutes. */
  readonly load: { readonly five_minutes: number; readonly processors: number } | null;
  /** The supply has sagged since somebody last looked. null: this machine does not say. */
  readonly undervoltage: boolean | null;
  readonly hottest_C: number | null;
  /** null: nobody knows where it is. */
  readonly store: StoreDisk | null;
}

export interface StoreDisk {
  readonly directory: string;
  readonly free_bytes: number | null;
  /** Why what is kept there is lost with the power, one sentence; null: it is not. */
  readonly volatile: string | null;
  readonly read_only: boolean;
}

/** `root` is where the file system is looked for: / but in tests. `store_path` is the database of the configuration. */
export async function hostFacts(store_path: string | null, root = "/"): Promise<HostFacts> {
  const [memory, load, undervoltage, hottest_C, store] = await Promise.all([
    memoryOf(root),
    loadOf(root),
    undervoltageOf(root),
    hottestOf(root),
    store_path === null ? null : storeDisk(store_path, root),
  ]);
  return { node_version: process.versions.node, memory, load, undervoltage, hottest_C, store };
}

async function storeDisk(store_path: string, root: string): Promise<StoreDisk> {
  const directory = await realpath(dirname(store_path)).catch(() => dirname(store_path));
  const mounts = (await textOf(join(root, "proc/mounts"))) ?? "";
  return {
    directory,
    free_bytes: await freeBytes(store_path),
    volatile: await volatileDisk(store_path),
    read_only: isReadOnly(mounts, directory),
  };
}

/** By the mount the directory is on: the longest that it lies under, and of two the later, which covers the other. */
export function isReadOnly(mounts: string, directory: string): boolean {
  let longest = -1;
  let read_only = false;
  for (const line of mounts.split("\n")) {
    const [, point, , options] = line.split(" ");
    if (point === undefined || options === undefined) continue;
    const at = point.replaceAll(/\\(\d{3})/g, (_, octal: string) => String.fromCharCode(Number.parseInt(octal, 8)));
    const above = at === "/" || directory === at || directory.startsWith(`${at}/`);
    if (!above || at.length < longest) continue;
    longest = at.length;
    read_only = options.split(",").includes("ro");
  }
  return read_only;
}

async function memoryOf(root: string): Promise<HostFacts["memory"]> {
  const text = (await textOf(join(root, "proc/meminfo"))) ?? "";
  const bytes = (name: string): number | null => {
    const [, kB] = new RegExp(`^${name}:\\s+(\\d+) kB$`, "m").exec(text) ?? [];
    return kB === undefined ? null : Number(kB) * 1024;
  };
  const [total_bytes, available_bytes] = [bytes("MemTotal"), bytes("MemAvailable")];
  return total_bytes === null || available_bytes === null ? null : { total_bytes, available_bytes };
}

async function loadOf(root: string): Promise<HostFacts["load"]> {
  const [, five] = (await textOf(join(root, "proc/loadavg")))?.split(" ") ?? [];
  return five === undefined ? null : { five_minutes: Number(five), processors: availableParallelism() };
}

async function undervoltageOf(root: string): Promise<boolean | null> {
  const folder = join(root, "sys/class/hwmon");
  for (const name of await namesIn(folder)) {
    if ((await textOf(join(folder, name, "name"))) !== "rpi_volt") continue;
    const alarm = await textOf(join(folder, name, "in0_lcrit_alarm"));
    if (alarm !== null) return alarm !== "0";
  }
  return null;
}

async function hottestOf(root: string): Promise<number | null> {
  const folder = join(root, "sys/class/thermal");
  const zones = (await namesIn(folder)).filter((name) => name.startsWith("thermal_zone"));
  const temperatures = await Promise.all(zones.map((zone) => textOf(join(folder, zone, "temp"))));
  const known = temperatures.flatMap((text) => (text !== null && /^-?\d+$/.test(text) ? [Number(text) / 1000] : []));
  return known.length === 0 ? null : Math.max(...known);
}

const namesIn = (folder: string): Promise<string[]> => readdir(folder).catch(() => []);
const textOf = (path: string): Promise<string | null> =>
  readFile(path, "utf8").then(
    (text) => text.trim(),
    () => null,
  );

/**
 * Reads the configuration file: TOML to a checked configuration, or every fault at once with its key path.
 * What is legal but likely to bite later is a warning. Secrets are opened to see that they can be, and not kept.
 */
import { readFileSync } from "node:fs";
import { parse, TomlError, type TomlTable } from "smol-toml";
import { check, type Fault, sayFault } from "../../protocol/requests/faults.ts";
import { isEncrypted, isLoopback } from "./broker-url.ts";
import { type Configuration, configurationSchema } from "./schema.ts";
import { type ReadSecret, readSecret } from "./secret.ts";

export type ReadConfiguration =
  | { readonly ok: true; readonly configuration: Configuration; readonly warnings: readonly string[] }
  | { readonly ok: false; readonly faults: readonly Fault[] };

export const DEFAULT_CONFIGURATION_FILE = "/etc/tidemark/tidemark.toml";

/** Reads a file. A file that cannot be read is a fault like any other. */
export function readConfiguration(file: string, secretAt = readSecret): ReadConfiguration {
  let text: string;
  try {
    text = readFileSync(file, "utf8");
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const message = code === "ENOENT" ? "there is no such file" : `the file cannot be read (${code})`;
    return { ok: false, faults: [{ path: "", message }] };
  }
  return parseConfiguration(text, secretAt);
}

/** The text of a configuration; `secretAt` is asked for each file it names, so that a missing one is said with the rest. */
export function parseConfiguration(text: string, secretAt: (path: string) => ReadSecret): ReadConfiguration {
  let table: TomlTable;
  try {
    table = parse(text);
  } catch (error) {
    if (!(error instanceof TomlError)) throw error;
    return { ok: false, faults: [{ path: "", message: sayTomlError(error) }] };
  }
  const checked = check(configurationSchema, table);
  const faults = [...(checked.ok ? [] : checked.faults.map(withSecretHint)), ...secretFaults(table, secretAt)];
  if (!checked.ok || faults.length > 0) return { ok: false, faults };
  return { ok: true, configuration: checked.value, warnings: warningsOf(checked.value) };
}

/** Every fault on a line of its own, under one sentence saying whose they are. */
export function sayFaults(file: string, faults: readonly Fault[]): string {
  const lines = faults.map((fault) => `  ${sayFault(fault)}`);
  return [`${file} is not a configuration to start with; correct this:`, ...lines].join("\n");
}

function sayTomlError(error: TomlError): string {
  // The library's message goes on with a picture of the lines around, which might hold what is not to be printed.
  const [first = ""] = error.message.split("\n");
  return `line ${error.line}, column ${error.column}: ${first.replace(/^Invalid TOML document: /, "")}`;
}

/** Somebody who wrote a secret into the file is told where it belongs instead. */
function withSecretHint(fault: Fault): Fault {
  if (!/(^|\.)(password|passphrase|secret|token)$/.test(fault.path)) return fault;
  return { ...fault, message: "is not a known key: a secret is read from a file, name it in broker.password_file" };
}

function secretFaults({ broker }: TomlTable, secretAt: (path: string) => ReadSecret): Fault[] {
  return (["password_file", "ca_file", "cert_file", "key_file"] as const).flatMap((key) => {
    const path = (broker as TomlTable | undefined)?.[key];
    if (typeof path !== "string" || path === "") return [];
    const read = secretAt(path);
    return read.ok ? [] : [{ path: `broker.${key}`, message: read.message }];
  });
}

function warningsOf({ broker, station: stations }: Configuration): string[] {
  const open = broker !== undefined && !isEncrypted(broker.url) && !isLoopback(broker.url);
  const warning = "broker.url is not encrypted: passwords and trainees can be read on the way; use mqtts:// or wss://";
  return [...(open ? [warning] : []), ...stationWarnings(stations)];
}

function stationWarnings(stations: Configuration["station"]): string[] {
  return stations.flatMap((station, index) => {
    const warnings: string[] = [];
    if (/^\/dev\/tty(USB|ACM)\d+$/.test(station.serial_port)) {
      warnings.push(
        `station[${index}].serial_port is ${station.serial_port}, which may name another board after a restart: ` +
          "use its link under /dev/serial/by-id or /dev/serial/by-path",
      );
    }
    if (station.force_limit_N > station.cell_capacity_N) {
      warnings.push(
        `station[${index}].force_limit_N is above cell_capacity_N: the cell gives way before the limit warns`,
      );
    }
    return warnings;
  });
}

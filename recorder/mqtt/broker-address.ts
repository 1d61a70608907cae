/** Where the broker is and how to get in. Files are read anew for each connection, so that changing one is enough. */
import { readFile } from "node:fs/promises";
import { PASSWORD_VARIABLE, readSecretLater } from "../configuration/secret.ts";
import { UNREADABLE_FILE } from "./trouble.ts";

export interface BrokerAddress {
  readonly url: string;
  /** 5 for a real broker: only its PUBACK carries a refusal. 4, which is MQTT 3.1.1, for the embedded one. */
  readonly protocol_version: 4 | 5;
  readonly username?: string | undefined;
  /** Without one the environment is asked, where there is a user name. */
  readonly password_file?: string | undefined;
  readonly ca_file?: string | undefined;
  /** Our own certificate and its key; both or neither. */
  readonly cert_file?: string | undefined;
  readonly key_file?: string | undefined;
  /** The longest packet that it takes, where its protocol has no word for that. */
  readonly packet_bytes?: number | undefined;
}

/** The longest packet that the embedded broker takes: room for the curve of the longest set there can be, 1800 s at 80 Hz. */
export const EMBEDDED_PACKET_BYTES = 4 * 1024 * 1024;

export const embeddedAddress = (port: number): BrokerAddress => ({
  url: `mqtt://127.0.0.1:${port}`,
  protocol_version: 4,
  packet_bytes: EMBEDDED_PACKET_BYTES,
});

/** Client id of one recorder: ids hold no dot, so two recorders never share one. */
export const clientIdOf = (root: string, site: string, recorder: string): string => `${root}.${site}.${recorder}`;

/** Host and port, for people: a URL may carry a password. */
export function placeOf(address: BrokerAddress): string {
  return URL.canParse(address.url) ? new URL(address.url).host : "the address in broker.url";
}

export interface Secrets {
  readonly password?: string;
  readonly ca?: Buffer;
  readonly cert?: Buffer;
  readonly key?: Buffer;
}

export type SecretsRead =
  | { readonly ok: true; readonly secrets: Secrets }
  | { readonly ok: false; readonly error: { readonly code: string; readonly message: string } };

export async function readSecrets(address: BrokerAddress): Promise<SecretsRead> {
  const secrets: { password?: string; ca?: Buffer; cert?: Buffer; key?: Buffer } = {};
  if (address.password_file !== undefined) {
    const read = await readSecretLater(address.password_file);
    if (!read.ok) return missing("password_file", read.message);
    secrets.password = read.secret;
  } else if (address.username !== undefined) {
    const password = process.env[PASSWORD_VARIABLE];
    if (password !== undefined) secrets.password = password;
  }
  for (const what of ["ca", "cert", "key"] as const) {
    const path = address[`${what}_file`];
    if (path === undefined) continue;
    try {
      secrets[what] = await readFile(path);
    } catch (error) {
      const cause = (error as NodeJS.ErrnoException).code ?? "unreadable";
      return missing(`${what}_file`, `names ${path}, which cannot be read (${cause})`);
    }
  }
  return { ok: true, secrets };
}

function missing(key: string, problem: string): SecretsRead {
  const message = `broker.${key} ${problem}: put the file there and let our user read it.`;
  return { ok: false, error: { code: UNREADABLE_FILE, message } };
}

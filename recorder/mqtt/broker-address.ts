/** Where the broker is and how to get in. Secrets are read anew for each connection, so that changing one is enough. */
import { readFile } from "node:fs/promises";
import { UNREADABLE_FILE } from "./trouble.ts";

export interface BrokerAddress {
  readonly url: string;
  /** 5 for a real broker: only its PUBACK carries a refusal. 4, which is MQTT 3.1.1, for the embedded one. */
  readonly protocol_version: 4 | 5;
  readonly username?: string | undefined;
  readonly password_file?: string | undefined;
  readonly ca_file?: string | undefined;
}

export const embeddedAddress = (port: number): BrokerAddress => ({
  url: `mqtt://127.0.0.1:${port}`,
  protocol_version: 4,
});

/** Host and port, for people: a URL may carry a password. */
export function placeOf(address: BrokerAddress): string {
  return URL.canParse(address.url) ? new URL(address.url).host : "the address in broker.url";
}

export interface Secrets {
  readonly password?: string;
  readonly ca?: Buffer;
}

export type SecretsRead =
  | { readonly ok: true; readonly secrets: Secrets }
  | { readonly ok: false; readonly error: { readonly code: string; readonly message: string } };

/** One line end after the password is the editor's, not part of it. */
export async function readSecrets(address: BrokerAddress): Promise<SecretsRead> {
  const secrets: { password?: string; ca?: Buffer } = {};
  for (const key of ["password_file", "ca_file"] as const) {
    const path = address[key];
    if (path === undefined) continue;
    try {
      const content = await readFile(path);
      if (key === "ca_file") secrets.ca = content;
      else secrets.password = content.toString("utf8").replace(/\r?\n$/, "");
    } catch (error) {
      const cause = (error as NodeJS.ErrnoException).code ?? "unreadable";
      const message = `broker.${key} cannot be read (${path}, ${cause}): put the file there and let our user read it.`;
      return { ok: false, error: { code: UNREADABLE_FILE, message } };
    }
  }
  return { ok: true, secrets };
}

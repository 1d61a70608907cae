/**
 * The broker configurations of hardware-notes as they are shipped, under a main file like Debian's: only paths, ports and
 * addresses become the test's own. And the table of its page: who may do what.
 */
import { execFileSync } from "node:child_process";
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { userInfo } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { Signer } from "./certificates.ts";
import { freePort } from "./free-port.ts";
import { Mosquitto } from "./mosquitto.ts";

const SHIPPED = fileURLToPath(new URL("../../hardware-notes/broker/", import.meta.url));

export const FILES = ["loopback.conf", "lan-passwords.conf", "lan-tls.conf"] as const;
export type File = (typeof FILES)[number];

export const passwordOf = (user: string): string => `the word of ${user}`;

export class ShippedBroker {
  readonly mosquitto = new Mosquitto();
  /** One for each listener. */
  readonly urls: string[] = [];
  ca_file: string | undefined;

  async start(file: File, users: readonly string[]): Promise<this> {
    const { folder } = this.mosquitto;
    const etc = join(folder, "etc");
    mkdirSync(join(etc, "conf.d"), { recursive: true });
    mkdirSync(join(etc, "tidemark"));
    copyFileSync(join(SHIPPED, "access-list"), join(etc, "tidemark", "access-list"));
    writeFileSync(join(etc, "tidemark", "passwords"), "", { mode: 0o600 });
    for (const user of users) {
      const words = ["-b", join(etc, "tidemark", "passwords"), user, passwordOf(user)];
      execFileSync("mosquitto_passwd", words, { stdio: "ignore" });
    }
    let text = readFileSync(join(SHIPPED, file), "utf8");
    if (text.includes("certfile")) {
      const signer = new Signer(folder, "signer");
      const { certfile, keyfile } = signer.issue();
      copyFileSync(certfile, join(etc, "tidemark", "broker.pem"));
      copyFileSync(keyfile, join(etc, "tidemark", "broker.key"));
      this.ca_file = signer.ca_file;
    }
    for (const [line, , address] of text.matchAll(/^listener (\d+) (\S+)$/gm)) {
      if (address !== "127.0.0.1" && address !== "192.0.2.10") throw new Error(`what network is ${address}?`);
      const port = await freePort();
      const own = text.slice(text.indexOf(line)).split(/\n\n/, 1)[0] ?? "";
      const scheme = (own.includes("websockets") ? "ws" : "mqtt") + (own.includes("certfile") ? "s" : "");
      this.urls.push(`${scheme}://127.0.0.1:${port}`);
      text = text.replace(line, `listener ${port} 127.0.0.1`);
      this.mosquitto.port = port;
    }
    writeFileSync(join(etc, "conf.d", "tidemark.conf"), text.replaceAll("/etc/mosquitto/", `${etc}/`));
    const main = ["persistence true", `persistence_location ${folder}/`, `include_dir ${join(etc, "conf.d")}`];
    writeFileSync(join(folder, "broker.conf"), [...main, `user ${userInfo().username}`, ""].join("\n"));
    await this.mosquitto.run();
    return this;
  }
}

export interface Row {
  /** As the page has it, with names in braces. */
  readonly topic: string;
  readonly rights: Readonly<Record<string, Rights>>;
}

export interface Rights {
  readonly read: boolean;
  readonly write: boolean;
}

/** The table under "Who may do what". */
export function rightsOfThePage(): { readonly columns: readonly string[]; readonly rows: readonly Row[] } {
  const [, section = ""] = readFileSync(join(SHIPPED, "README.md"), "utf8").split("## Who may do what");
  const [head = [], , ...body] = section
    .split("\n")
    .filter((line) => line.startsWith("|"))
    .map((line) =>
      line
        .split("|")
        .slice(1, -1)
        .map((cell) => cell.trim()),
    );
  const columns = head.slice(1);
  const rows = body.map(([topic = "", ...cells]) => ({
    topic: topic.replaceAll("`", ""),
    rights: Object.fromEntries(columns.map((column, at) => [column, rightsIn(cells[at] ?? "")])),
  }));
  return { columns, rows };
}

function rightsIn(cell: string): Rights {
  if (!/^(-|read|write|read, write)$/.test(cell)) throw new Error(`what right is "${cell}"?`);
  return { read: cell.includes("read"), write: cell.includes("write") };
}

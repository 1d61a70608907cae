/** A whole recorder against a broker that refuses and then takes its password: the word itself is nowhere in what it says. */
import { spawn } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { afterEach, expect, test } from "vitest";
import { PASSWORD_VARIABLE } from "../../recorder/configuration/secret.ts";
import { endAll, later } from "../recorder/mqtt/loopback.ts";
import { Mosquitto } from "./mosquitto.ts";
import { portless } from "./portless.ts";

afterEach(endAll);

const ROOT = fileURLToPath(new URL("../..", import.meta.url));
const RIGHT = "quince-lantern-0931";
const WRONG = "walnut-harbour-5520";

test.each(["file", "environment"] as const)(
  "a password from the %s, wrong and right: never said, not even with --debug",
  async (from) => {
    const mosquitto = new Mosquitto();
    later(() => mosquitto.remove());
    await mosquitto.start({ users: { box: RIGHT }, acl: "user box\ntopic readwrite #\n" });
    const folder = mkdtempSync(join(tmpdir(), "tidemark-secrets-"));
    later(() => rmSync(folder, { recursive: true }));
    const at = (name: string): string => join(folder, name);
    const file = from === "file" ? [`password_file = "${at("word")}"`] : [];
    const broker = [`url = "mqtt://127.0.0.1:${mosquitto.port}"`, 'username = "box"', ...file];
    writeFileSync(at("tidemark.toml"), portless(at, broker));
    let said = "";
    for (const [password, until] of [
      [WRONG, "does not let us in"],
      [RIGHT, "Connected to the broker"],
    ] as const) {
      if (from === "file") writeFileSync(at("word"), `${password}\n`, { mode: 0o600 });
      const child = spawn(
        process.execPath,
        ["--import", "tsx", "recorder/main.ts", "run", "--debug", "--config", at("tidemark.toml")],
        { cwd: ROOT, env: { ...process.env, ...(from === "file" ? {} : { [PASSWORD_VARIABLE]: password }) } },
      );
      later(() => child.kill("SIGKILL"));
      let own = "";
      for (const stream of [child.stdout, child.stderr])
        stream.on("data", (bytes: Buffer) => (own += bytes.toString()));
      await expect.poll(() => own, { timeout: 20_000 }).toMatch(new RegExp(until));
      const gone = once(child, "exit");
      child.kill("SIGTERM");
      await gone;
      said += own;
    }
    const kept = readdirSync(folder, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile() && entry.name !== "word")
      .map((entry) => readFileSync(join(entry.parentPath, entry.name), "latin1"));
    for (const text of [said, ...kept]) {
      // The variable's own bytes, and what a packet or a log might make of them.
      for (const word of [RIGHT, WRONG]) {
        expect(text).not.toContain(word);
        expect(text).not.toContain(Buffer.from(word).toString("base64").replace(/=*$/, ""));
        expect(text).not.toContain(Buffer.from(word).toString("hex"));
      }
    }
  },
);

/** A real broker of its own, on loopback, with its files in a temporary folder; ended by its process id. */
import { type ChildProcess, execFileSync, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { connect } from "node:net";
import { tmpdir, userInfo } from "node:os";
import { join } from "node:path";
import { freePort } from "./free-port.ts";

const BINARY = process.env["MOSQUITTO"] ?? "mosquitto";

export interface MosquittoSetup {
  readonly users: Readonly<Record<string, string>>;
  readonly acl: string;
  /** Certificate and key files for TLS; with a signer's, clients need a certificate too. */
  readonly tls?: { readonly certfile: string; readonly keyfile: string; readonly ca_file?: string };
  /** Further lines of mosquitto.conf(5), such as its limits. */
  readonly limits?: readonly string[];
  /** Keeps sessions and what waits for them over a restart: on the disk when told to (USR1), not after each message. */
  readonly remembers?: boolean;
}

export class Mosquitto {
  readonly folder = mkdtempSync(join(tmpdir(), "mosquitto-"));
  port = 0;
  #child: ChildProcess | null = null;

  async start(setup: MosquittoSetup): Promise<this> {
    this.port = await freePort();
    await this.#begin(setup);
    return this;
  }

  /** Another process at the same port, with nothing of what the former knew unless it was set up to remember. */
  async restart(setup: MosquittoSetup): Promise<void> {
    await this.kill();
    await this.#begin(setup);
  }

  async #begin(setup: MosquittoSetup): Promise<void> {
    this.setPasswords(setup.users);
    this.setAcl(setup.acl);
    const tls = setup.tls ? [`certfile ${setup.tls.certfile}`, `keyfile ${setup.tls.keyfile}`] : [];
    const clients = setup.tls?.ca_file === undefined ? [] : [`cafile ${setup.tls.ca_file}`, "require_certificate true"];
    const lines = [
      `listener ${this.port} 127.0.0.1`,
      ...tls,
      ...clients,
      "allow_anonymous false",
      `password_file ${join(this.folder, "passwords")}`,
      `acl_file ${join(this.folder, "acl")}`,
      `user ${userInfo().username}`,
      ...(setup.limits ?? []),
      ...(setup.remembers === true
        ? ["persistence true", `persistence_location ${this.folder}/`, "max_queued_messages 0"]
        : ["persistence false"]),
    ];
    writeFileSync(join(this.folder, "broker.conf"), `${lines.join("\n")}\n`);
    await this.run();
  }

  /** Starts the process (again) and waits until it listens. */
  async run(): Promise<void> {
    const child = spawn(BINARY, ["-c", join(this.folder, "broker.conf")], { stdio: "ignore" });
    this.#child = child;
    await once(child, "spawn");
    while (!(await this.#listens())) {
      if (child.exitCode !== null) throw new Error(`the broker ended with ${child.exitCode}`);
    }
  }

  setPasswords(users: Readonly<Record<string, string>>): void {
    const path = join(this.folder, "passwords");
    writeFileSync(path, "", { mode: 0o600 });
    for (const [user, password] of Object.entries(users)) {
      execFileSync("mosquitto_passwd", ["-b", path, user, password], { stdio: "ignore" });
    }
  }

  setAcl(acl: string): void {
    writeFileSync(join(this.folder, "acl"), acl, { mode: 0o600 });
  }

  /** HUP has it read passwords and rights anew, USR1 write down what it remembers; STOP and CONT freeze and thaw it. */
  signal(signal: "SIGHUP" | "SIGUSR1" | "SIGSTOP" | "SIGCONT"): void {
    this.#child?.kill(signal);
  }

  /** SIGTERM gives it time to write down what it remembers. */
  async kill(signal: "SIGKILL" | "SIGTERM" = "SIGKILL"): Promise<void> {
    const child = this.#child;
    this.#child = null;
    if (child === null || child.exitCode !== null) return;
    const exited = once(child, "exit");
    child.kill(signal);
    await exited;
  }

  async remove(): Promise<void> {
    await this.kill();
    rmSync(this.folder, { recursive: true, force: true });
  }

  #listens(): Promise<boolean> {
    return new Promise((resolve) => {
      const socket = connect(this.port, "127.0.0.1");
      socket.once("connect", () => {
        socket.destroy();
        resolve(true);
      });
      socket.once("error", () => setTimeout(resolve, 10, false));
    });
  }
}

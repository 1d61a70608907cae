/** A signer of its own and what it signed, by openssl ca(1): any dates, any names. In a folder of the caller's. */
import { execFileSync } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";

export interface Issued {
  readonly certfile: string;
  readonly keyfile: string;
}

export interface Wanted {
  /** As openssl writes it: `IP:127.0.0.1`. */
  readonly for?: string;
  readonly from?: Date;
  readonly to?: Date;
}

const DAY_MS = 86_400_000;

/** From now; may be negative. */
export const inDays = (days: number): Date => new Date(Date.now() + days * DAY_MS);

export class Signer {
  readonly ca_file: string;
  readonly #folder: string;
  #issued = 0;

  constructor(folder: string, name: string) {
    this.#folder = join(folder, name);
    this.ca_file = join(this.#folder, "ca.pem");
    mkdirSync(join(this.#folder, "issued"), { recursive: true });
    writeFileSync(join(this.#folder, "index.txt"), "");
    const [key, index] = [join(this.#folder, "signer.key"), join(this.#folder, "index.txt")];
    const own = [`database = ${index}`, `certificate = ${this.ca_file}`, `private_key = ${key}`, "rand_serial = yes"];
    const rest = [`new_certs_dir = ${join(this.#folder, "issued")}`, "default_md = sha256", "policy = any"];
    const more = ["copy_extensions = copy", "unique_subject = no", "[any]", "commonName = supplied"];
    writeFileSync(this.#settings, ["[ca]", "default_ca = own", "[own]", ...own, ...rest, ...more, ""].join("\n"));
    const rights = ["-addext", "basicConstraints=critical,CA:TRUE", "-addext", "keyUsage=critical,keyCertSign,cRLSign"];
    openssl(
      "req",
      "-x509",
      ...NEW_KEY,
      "-days",
      "900",
      "-subj",
      `/CN=${name}`,
      ...rights,
      "-keyout",
      key,
      "-out",
      this.ca_file,
    );
  }

  issue(wanted: Wanted = {}): Issued {
    this.#issued += 1;
    const at = (ending: string): string => join(this.#folder, `${this.#issued}.${ending}`);
    const [certfile, keyfile, asked] = [at("pem"), at("key"), at("csr")];
    const names = ["-addext", `subjectAltName=${wanted.for ?? "IP:127.0.0.1"}`];
    openssl("req", ...NEW_KEY, "-subj", "/CN=issued", ...names, "-keyout", keyfile, "-out", asked);
    const dates = ["-startdate", stamp(wanted.from ?? inDays(-1)), "-enddate", stamp(wanted.to ?? inDays(300))];
    openssl("ca", "-batch", "-notext", "-config", this.#settings, ...dates, "-in", asked, "-out", certfile);
    return { certfile, keyfile };
  }

  get #settings(): string {
    return join(this.#folder, "openssl.conf");
  }
}

const NEW_KEY = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"];

/** ASN.1 GeneralizedTime, as openssl ca(1) takes it. */
const stamp = (date: Date): string => `${date.toISOString().replaceAll(/[-:T]|\.\d+Z/g, "")}Z`;

function openssl(...words: readonly string[]): void {
  execFileSync("openssl", words, { stdio: ["ignore", "ignore", "pipe"] });
}

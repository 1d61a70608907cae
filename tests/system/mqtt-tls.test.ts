/**
 * TLS between the bus and mosquitto, with certificates that openssl made: what is wrong with one is said, nothing is
 * connected to without being checked, and what is put right in a file is enough. RFC 5280 section 4.1.2.5 (dates), RFC
 * 9110 section 4.3.4 (the name in the certificate is the name in the address).
 */
import { copyFileSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, expect, test } from "vitest";
import { type BusUnderTest, busAt, endAll, later, realAddress, until } from "../recorder/mqtt/loopback.ts";
import { type Issued, inDays, Signer } from "./certificates.ts";
import { Mosquitto } from "./mosquitto.ts";

let mosquitto: Mosquitto;
let signer: Signer;
/** Where the broker and we look; what lies there is swapped under both. */
let tls: Issued;
let ca_file: string;

beforeEach(() => {
  mosquitto = new Mosquitto();
  later(() => mosquitto.remove());
  signer = new Signer(mosquitto.folder, "north");
  const at = (name: string): string => join(mosquitto.folder, name);
  tls = { certfile: at("broker.pem"), keyfile: at("broker.key") };
  ca_file = at("ca.pem");
  copyFileSync(signer.ca_file, ca_file);
});
afterEach(endAll);

function put({ certfile, keyfile }: Issued): void {
  copyFileSync(certfile, tls.certfile);
  copyFileSync(keyfile, tls.keyfile);
}

async function started(first: Issued, clients_too = false): Promise<void> {
  put(first);
  const acl = "user box\ntopic readwrite #\n";
  await mosquitto.start({ users: { box: "open sesame" }, acl, tls: { ...tls, ...(clients_too ? { ca_file } : {}) } });
}

const address = () => {
  const password_file = join(mosquitto.folder, "password");
  writeFileSync(password_file, "open sesame\n");
  const url = `mqtts://127.0.0.1:${mosquitto.port}`;
  return { ...realAddress(mosquitto.port), url, username: "box", password_file, ca_file };
};

const well = { connected: true, trouble: null, alarm: null };
const becomes = (one: BusUnderTest, words: RegExp): Promise<void> =>
  until(() => expect(one.last()?.trouble).toMatch(words));

/** A new certificate, and the broker told; mosquitto.conf(5), certfile: it is read anew at HUP. */
function renew(issued: Issued): void {
  put(issued);
  mosquitto.signal("SIGHUP");
}

test("every certificate that is not good is refused, said once, and let be when a good one comes", async () => {
  await started(signer.issue({ from: inDays(2), to: inDays(90) }));
  const unset = busAt(address(), { date: () => ({ at_ms: 0, clock_synced: false }), client_id: "unset" });
  const one = busAt(address());
  await becomes(unset, /not valid yet by our clock, which is not set: the connection will come once it is\.$/);
  await becomes(one, /not valid yet, and our clock is set to \d{4}-\d\d-\d\d: /);
  await unset.bus.stop();
  renew(signer.issue({ from: inDays(-9), to: inDays(-2) }));
  await becomes(one, /has expired by our clock, which says \d{4}-\d\d-\d\d: /);
  renew(signer.issue({ for: "DNS:elsewhere.example" }));
  await becomes(one, /is for another name: use that name in broker\.url\.$/);
  renew(new Signer(mosquitto.folder, "stranger").issue());
  await becomes(one, /is signed by nobody we know: name its signer in broker\.ca_file\.$/);
  expect(one.statuses.some(({ connected }) => connected)).toBe(false);
  renew(signer.issue());
  await until(() => expect(one.last()).toEqual(well));
  expect(one.lines).toHaveLength(5);
});

test("another signer: the file is read anew, so that putting the new one in it is enough", async () => {
  await started(signer.issue());
  const one = busAt(address());
  await until(() => expect(one.last()).toEqual(well));
  const heir = new Signer(mosquitto.folder, "heir");
  put(heir.issue());
  await mosquitto.kill();
  await mosquitto.run();
  await becomes(one, /signed by nobody we know/);
  writeFileSync(ca_file, Buffer.concat([readFileSync(signer.ca_file), readFileSync(heir.ca_file)]));
  await until(() => expect(one.last()).toEqual(well));
});

test("our own certificate: without it we are turned away, with it we are in", async () => {
  await started(signer.issue(), true);
  const bare = busAt(address());
  await until(() => expect(bare.last()).toMatchObject({ connected: false, trouble: expect.stringMatching(/: .+\.$/) }));
  await bare.bus.stop();
  const own = signer.issue();
  const one = busAt({ ...address(), cert_file: own.certfile, key_file: own.keyfile });
  await until(() => expect(one.last()).toEqual(well));
});

test("a certificate that ends within 30 days is said while all works, ours as well as the broker's", async () => {
  await started(signer.issue({ to: inDays(40) }), true);
  const own = signer.issue({ to: inDays(20) });
  const one = busAt({ ...address(), cert_file: own.certfile, key_file: own.keyfile });
  await becomes(one, /^The certificate of broker\.cert_file ends on /);
  const ends = inDays(10);
  renew(signer.issue({ to: ends }));
  await mosquitto.kill();
  await mosquitto.run();
  await becomes(one, /^The certificate of the broker at 127\.0\.0\.1:\d+ ends on /);
  expect(one.last()).toMatchObject({ connected: true, alarm: null });
  expect(one.last()?.trouble).toContain(` ${ends.toISOString().slice(0, 10)}: `);
});

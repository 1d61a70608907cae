/** One look at the broker, with the rights of the display where somebody gives them. What it reads of secrets goes nowhere else. */
import type { Finding } from "../../../calibration/self-test/finding.ts";
import type { Configuration } from "../../configuration/schema.ts";
import { type BrokerAddress, embeddedAddress, placeOf, readSecrets } from "../../mqtt/broker-address.ts";
import { type Listened, listen } from "../../mqtt/listening.ts";
import { explainEnding } from "../../mqtt/trouble.ts";
import { brokerFindings, type Expected, topicsOf } from "./broker-findings.ts";
import { fault, notice } from "./findings.ts";

/** Whom the display is at the broker; null: nobody said. */
export interface DisplayUser {
  readonly username: string;
  readonly password_file: string | undefined;
}

/** Listens for so long, in seconds. What it needs to know of the stations is known only afterwards, so it comes as a call. */
export interface AtBroker {
  readonly findings: (expected: Expected) => readonly Finding[];
}

export interface LookOptions {
  readonly configuration: Pick<Configuration, "broker" | "embedded_broker">;
  readonly display: DisplayUser | null;
  readonly expected: Expected;
  readonly for_s: number;
  readonly signal: AbortSignal;
}

export async function lookAtBroker({
  configuration,
  display,
  expected,
  for_s,
  signal,
}: LookOptions): Promise<AtBroker> {
  const { broker, embedded_broker } = configuration;
  if (broker === undefined && embedded_broker.port === 0) {
    const what = "The recorder's own broker takes any free port, another at each start: no display knows where it is.";
    const finding = notice("connect", what, "Give embedded_broker.port a number.");
    return { findings: () => [finding] };
  }
  const address = addressOf(broker, embedded_broker.port, display);
  const read = await readSecrets(address);
  if (!read.ok) {
    const whose = display === null ? "The recorder's own" : "The display's";
    const what = `${whose} credentials cannot be read, so nobody has looked: ${keyOf(read.error.message, display)}`;
    const remedy = "Run this as a user who may read them, or give --display-username and --display-password-file.";
    const finding = display === null ? notice("credentials", what, remedy) : fault("credentials", what, remedy);
    return { findings: () => [finding] };
  }
  // The environment may hold the recorder's own password: that is none of the display's.
  const { password, ...others } = read.secrets;
  const secrets =
    password === undefined || (display !== null && display.password_file === undefined)
      ? others
      : { ...others, password };
  const listened = await listen({ address, secrets, topics: topicsOf(expected), for_s, signal });
  return {
    findings: (known) => [
      ...whose(broker !== undefined, display, address.username),
      ...brokerFindings(listened, known, troubleOf(listened, address, display, broker === undefined)),
    ],
  };
}

function addressOf(broker: Configuration["broker"], port: number, display: DisplayUser | null): BrokerAddress {
  if (broker === undefined) return { ...embeddedAddress(port), ...(display ?? {}) };
  const { url, ca_file, cert_file, key_file, username, password_file } = broker;
  const user = display ?? { username, password_file };
  return { url, protocol_version: 5, ca_file, cert_file, key_file, ...user };
}

function whose(real: boolean, display: DisplayUser | null, username: string | undefined): readonly Finding[] {
  if (!real || display !== null || username === undefined) return [];
  return [
    notice(
      "user",
      "This was seen as the recorder's own user of the broker, not as the display's: what the display may read, it does not show.",
      "Give --display-username and --display-password-file.",
    ),
  ];
}

function troubleOf(
  { ending }: Listened,
  address: BrokerAddress,
  display: DisplayUser | null,
  own: boolean,
): string | null {
  if (ending === null) return null;
  const { sentence } = explainEnding(ending, placeOf(address), { at_ms: Date.now(), clock_synced: true });
  return own ? ofItsOwn(sentence) : keyOf(sentence, display);
}

/** Nobody can start it by itself, and no address of it stands in the configuration. */
const ofItsOwn = (sentence: string): string =>
  `${sentence.split(": ")[0]}: the recorder brings this broker with it, so start the recorder, or see in its log why it has none.`;

/** Where the credentials are the display's, it is not the configuration that is to be corrected. */
const keyOf = (sentence: string, display: DisplayUser | null): string =>
  display === null
    ? sentence
    : sentence
        .replace("broker.username", "--display-username")
        .replace("broker.password_file", "--display-password-file");

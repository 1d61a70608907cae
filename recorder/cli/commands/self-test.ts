/** Sensors at rest, their ports, the box and the broker, looked at for ten seconds: what is found, how bad, what would do. */
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { DEFAULT_CONFIGURATION_FILE, readConfiguration } from "../../configuration/read.ts";
import type { Configuration } from "../../configuration/schema.ts";
import { ask } from "../client.ts";
import { type Call, type Command, DID_NOT_HOLD, type ExitCode, type Failure, textOf } from "../command.ts";
import { type Status, statusSchema } from "../self-test/answers.ts";
import { lookAtBroker } from "../self-test/at-broker.ts";
import { type LookedAt, lookAtStation } from "../self-test/at-station.ts";
import type { Expected } from "../self-test/broker-findings.ts";
import { notice } from "../self-test/findings.ts";
import { hostFacts } from "../self-test/host-facts.ts";
import { hostFindings, notRunning } from "../self-test/host-findings.ts";
import { countOf, sayReport } from "../self-test/report-text.ts";
import { readWish, WISH_FLAGS, type Wish } from "../self-test/wish.ts";
import { readSettings, type Settings } from "../settings.ts";

/** `root` is where the file system is looked for. */
export const selfTestUnder = (root: string): Command => ({
  operands: ["[STATION]"],
  flags: WISH_FLAGS,
  example: "tidemark self-test leg-press --lamps",
  run: (call) => selfTest(call, root),
});

export const command = selfTestUnder("/");

/** What is known before anything is looked at. */
interface Known {
  readonly status: Status | null;
  /** Why there is no status. */
  readonly unasked: string;
  /** null: it cannot be read here, which the recorder need not mind. */
  readonly configuration: Configuration | null;
  readonly stations: readonly string[];
}

async function selfTest(call: Call, root: string): Promise<ExitCode | Failure> {
  const { flags, terminal } = call;
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const wish = readWish(flags);
  if ("exit" in wish) return wish;
  const known = await whatIsKnown(call, settings);
  if ("exit" in known) return known;
  const { status, stations, configuration } = known;
  const signal = terminal.interrupted();
  if (status !== null) {
    terminal.error(`testing ${stations.join(", ")} for ${wish.args.duration_s} s: keep away from the machines`);
  }
  const [looked, host, broker] = await Promise.all([
    Promise.all(
      stations.map((station) =>
        lookAtStation({
          station,
          wish,
          service_socket: settings.service_socket,
          running: status !== null,
          simulated: status?.simulated ?? false,
          serial_port: configuration?.station.find(({ id }) => id === station)?.serial_port ?? null,
          root,
          signal,
        }),
      ),
    ),
    hostFacts(configuration?.store.path ?? null, root),
    wish.broker ? askBroker(known, wish, signal) : null,
  ]);
  if (signal.aborted)
    return {
      exit: DID_NOT_HOLD,
      message: `stopped: nothing is said of a test that was not finished; stations are free after ${wish.args.duration_s} s`,
    };
  const of_host = [...(status === null ? [notRunning(known.unasked)] : []), ...hostFindings(host, status)];
  return report(call, looked, of_host, broker === null ? null : broker(looked));
}

/** The recorder is asked first; where it does not answer, the configuration says which stations there are. */
async function whatIsKnown({ flags, operands }: Call, settings: Settings): Promise<Known | Failure> {
  const reply = await ask({ path: settings.socket, verb: "status", args: {} });
  const answered = statusSchema.safeParse(reply.ok ? reply.result : null);
  const status = answered.success ? answered.data : null;
  const unasked = reply.ok ? "its answer is of another version: use its own command line" : reply.failure.message;
  const read = readConfiguration(textOf(flags, "config") ?? DEFAULT_CONFIGURATION_FILE, () => ({
    ok: true,
    secret: "",
  }));
  const configuration = read.ok ? read.configuration : null;
  const all = status?.stations.map(({ station }) => station) ?? configuration?.station.map(({ id }) => id) ?? null;
  if (all === null) return { exit: DID_NOT_HOLD, message: unasked };
  const [wanted] = operands;
  if (wanted !== undefined && !all.includes(wanted)) {
    return { exit: DID_NOT_HOLD, message: `there is no station ${wanted}: it is one of ${all.join(", ")}` };
  }
  return { status, unasked, configuration, stations: wanted === undefined ? all : [wanted] };
}

/** Listens for as long as the sensors are looked at. What is to come is known once those have answered. */
async function askBroker(known: Known, wish: Wish, signal: AbortSignal) {
  const { status, configuration } = known;
  if (configuration === null) {
    const what = "Nobody has looked: the configuration, which says where the broker is, cannot be read here.";
    const finding = notice("configuration", what, "Name it with --config, as a user who may read it.");
    return (): readonly Finding[] => [finding];
  }
  const expected = (looked: readonly LookedAt[]): Expected => ({
    root: configuration.broker?.root ?? "tidemark",
    site: configuration.site,
    recorder: configuration.recorder,
    boot: status?.boot ?? null,
    stations: known.stations.map((id) => {
      const rate_Hz = configuration.station.find((station) => station.id === id)?.live_rate_Hz ?? 1;
      const measures = looked.some(({ station, sample }) => station === id && sample?.ended === "complete");
      return { id, live_rate_Hz: rate_Hz, measures };
    }),
  });
  const { display, args } = wish;
  const look = { configuration, display, expected: expected([]), for_s: args.duration_s, signal };
  const at_broker = await lookAtBroker(look);
  return (looked: readonly LookedAt[]): readonly Finding[] => at_broker.findings(expected(looked));
}

function report(
  { flags, terminal }: Call,
  looked: readonly LookedAt[],
  host: readonly Finding[],
  broker: readonly Finding[] | null,
): ExitCode {
  const faults = countOf([...looked.flatMap(({ findings }) => findings), ...host, ...(broker ?? [])], "fault");
  if (flags["json"] === true) {
    const stations = looked.map(({ station, findings, sample }) =>
      sample === null ? { station, findings } : { station, findings, sample },
    );
    terminal.out(JSON.stringify({ stations, host, broker: broker ?? [], faults }));
  } else {
    const box = { heading: "the box", findings: host };
    const about = broker === null ? [] : [{ heading: "the broker", findings: broker }];
    terminal.out(sayReport([...looked, box, ...about]));
  }
  return faults === 0 ? 0 : DID_NOT_HOLD;
}

/** One station: its readings asked of the recorder, its port looked at here. */
import { userInfo } from "node:os";
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { surroundingsOf } from "../../serial/port-surroundings.ts";
import { ask } from "../client.ts";
import type { Failure } from "../command.ts";
import { type SelfTestAnswer, selfTestSchema } from "./answers.ts";
import { fault, good } from "./findings.ts";
import { portFindings } from "./port-findings.ts";
import type { Part } from "./report-text.ts";
import { refusedFinding, sensorFindings } from "./sensor-findings.ts";
import type { Wish } from "./wish.ts";

export interface LookedAt extends Part {
  readonly station: string;
  /** null: there are no readings. */
  readonly sample: SelfTestAnswer | null;
}

export interface StationOptions {
  readonly station: string;
  readonly wish: Wish;
  readonly service_socket: string;
  /** The recorder runs; where it does not, there is only the port to look at. */
  readonly running: boolean;
  readonly simulated: boolean;
  /** As the configuration calls it; null: nobody knows. */
  readonly serial_port: string | null;
  readonly root: string;
  readonly signal: AbortSignal;
}

export async function lookAtStation(options: StationOptions): Promise<LookedAt> {
  const { station, wish, running, root } = options;
  const asked = running ? await askStation(options) : null;
  const sample = asked?.sample ?? null;
  const path = sample?.serial_port ?? options.serial_port;
  const of_port = options.simulated
    ? [good("port", "The line is simulated: there is no port to look at.")]
    : path === null
      ? []
      : portFindings(await surroundingsOf(path, root), userInfo().username);
  const of_sensor = sample !== null ? sensorFindings(sample, { mains_Hz: wish.mains_Hz, lamps: wish.args.lamps }) : [];
  const refused = asked === null || asked.failure === null ? [] : [notAnswered(asked.failure)];
  return { station, heading: headingOf(station, sample), findings: [...refused, ...of_sensor, ...of_port], sample };
}

/** One of the two. */
interface Asked {
  readonly sample: SelfTestAnswer | null;
  readonly failure: Failure | null;
}

async function askStation({ station, wish, service_socket, signal }: StationOptions): Promise<Asked> {
  const args = { station, ...wish.args };
  const reply = await ask({ path: service_socket, verb: "self-test", args, signal });
  if (!reply.ok) return { sample: null, failure: reply.failure };
  const read = selfTestSchema.safeParse(reply.result);
  return read.success ? { sample: read.data, failure: null } : { sample: null, failure: STRANGER };
}

const STRANGER: Failure = {
  exit: 1,
  message: "the recorder answered with something else than readings: use the command line of its own version",
};

function notAnswered({ message, refusal }: Failure): Finding {
  if (refusal !== undefined) return refusedFinding(refusal);
  const at = message.lastIndexOf(": ");
  const remedy = at < 0 ? "see the recorder's log" : message.slice(at + 2);
  return fault("readings", `Not looked at: ${at < 0 ? message : message.slice(0, at)}.`, `${remedy}.`);
}

function headingOf(station: string, sample: SelfTestAnswer | null): string {
  if (sample === null) return station;
  const { board, amplifier, gain, firmware, dialect } = sample;
  const facts = [
    board === null ? `a board of ${dialect === "bare" ? "bare numbers" : "no name"}` : `board ${board}`,
    amplifier,
    gain === null ? null : `gain ${gain}`,
    firmware === null ? null : `firmware ${firmware}`,
  ];
  return `${station}: ${facts.filter((fact) => fact !== null).join(", ")}`;
}

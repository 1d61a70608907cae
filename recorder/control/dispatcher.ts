/**
 * One dispatcher for every door: checks a request, decides whether it may, and carries it to the record or a station.
 * It never rejects: what nobody foresaw is written to the log and comes back as `internal`, without its details.
 */
import { closest } from "../../protocol/requests/closest.ts";
import { check, type Fault, sayFault } from "../../protocol/requests/faults.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import {
  type ArgsOf,
  isVerb,
  type StationRequest,
  VERBS,
  type Verb,
  type VerbGroup,
  type VerbRule,
} from "../../protocol/requests/verbs.ts";
import type { Store } from "../ports.ts";
import { type CalibrationsRead, calibrationsOf } from "./calibrations.ts";
import type { AuditLog, Care, CurveOf, Door, Records, Stations, WatchEvent } from "./ports.ts";

/** A request as it came, unchecked. */
export interface Request {
  readonly verb: unknown;
  /** The fields beside `verb` and `request_id`. */
  readonly args: unknown;
  /** What this door may ask for. */
  readonly groups: readonly VerbGroup[];
  readonly door: Door;
  readonly request_id: string;
  /** The broker user who asks, over MQTT. */
  readonly asker?: string;
  /** A set must be of this station: a right at its topic is one to no other's. */
  readonly within?: string;
  /** Where a stream's events go, until the signal. A door without one cannot `watch`. */
  readonly stream?: Stream;
}

export interface Stream {
  readonly event: (event: WatchEvent) => void;
  readonly signal: AbortSignal;
}

export type Dispatch = (request: Request) => Promise<Outcome>;

export interface DispatcherPorts {
  readonly stations: Stations;
  readonly store: CalibrationsRead & Pick<Store, "sets" | "set" | "tags">;
  readonly records: Records;
  readonly care: Care;
  readonly curveOf: CurveOf;
  readonly log: AuditLog;
}

export function createDispatcher(ports: DispatcherPorts): Dispatch {
  return async (request) => {
    try {
      return await dispatch(request, ports);
    } catch (error) {
      ports.log.error({ err: error, verb: request.verb, request_id: request.request_id }, "a request failed");
      return refused("internal", "The recorder could not carry this out.", "Its log says why, under this request_id.");
    }
  };
}

async function dispatch(request: Request, ports: DispatcherPorts): Promise<Outcome> {
  const { verb } = request;
  if (!isVerb(verb)) return unknownVerb(verb, request);
  const { group, over_mqtt, args: schema }: VerbRule = VERBS[verb];
  if (request.door === "mqtt" && over_mqtt === false) {
    return refused("not-permitted", `${verb} is never taken over MQTT.`, "Use a control socket.");
  }
  if (!request.groups.includes(group)) {
    return refused("not-permitted", `This door does not take ${group} verbs, and ${verb} is one.`, HINTS[request.door]);
  }
  const checked = check(schema, request.args);
  if (!checked.ok) return badRequest(verb, checked.faults, request.args);
  const { station } = checked.value as { readonly station?: string };
  const stations = ports.stations.ids();
  if (station !== undefined && !stations.includes(station)) return unknownStation(station, stations);
  const asked = { verb, args: checked.value } as CheckedRequest;
  const outcome = await carryOut(asked, request, ports);
  if (group !== "read") audit(asked, request, outcome, ports);
  return outcome;
}

/** Who had what done, once; nothing else of what was asked, which may be about a person. */
function audit({ verb, args }: CheckedRequest, request: Request, outcome: Outcome, { log }: DispatcherPorts): void {
  const { station, set_id, trainee, ...by } = args as Readonly<Record<string, string | undefined>>;
  // Who has themselves erased asks for no new trace.
  const performed_by = verb === "erase" && by["performed_by"] === trainee ? undefined : by["performed_by"];
  const { door, asker, request_id } = request;
  const result = outcome.ok ? "done" : outcome.error.code;
  log.info(
    { verb, station, set_id, door, asker, performed_by, request_id, outcome: result },
    `Asked for ${verb}: ${result}.`,
  );
}

/** The schema of `verb` has checked `args`. */
type CheckedRequest = { [V in Verb]: { readonly verb: V; readonly args: ArgsOf<V> } }[Verb];

async function carryOut(asked: CheckedRequest, request: Request, ports: DispatcherPorts): Promise<Outcome> {
  const { stations, store, records, care } = ports;
  switch (asked.verb) {
    case "status":
      return done(stations.status(asked.args.station));
    case "sets":
      return reading(request, ports, async () => done(await store.sets(asked.args)));
    case "set":
      return reading(request, ports, () => oneSet(asked.args, request, ports));
    case "calibrations":
      return reading(request, ports, async () => done(await calibrationsOf(asked.args, store)));
    case "plan":
      return reading(request, ports, () => records.plans(asked.args));
    case "trend":
      return reading(request, ports, () => records.trend(asked.args));
    case "plan-save":
      return records.savePlan(asked.args);
    case "import":
      return imported(asked.args, ports);
    case "export":
      return care.exportTo(asked.args);
    case "backup":
      return care.backup(asked.args);
    case "restore":
      return care.restore(asked.args);
    case "erase":
      return care.erase(asked.args);
    case "tags":
      return reading(request, ports, async () => done({ tags: await store.tags() }));
    case "amend":
      return records.amend(asked.args, request.within);
    case "tag-save":
      return records.saveTag(asked.args);
    case "watch":
      return watch(asked.args.station, request, stations);
    default:
      return act(asked, request, stations);
  }
}

/** The schema lets one of both through. */
function imported(
  { calibration, path, performed_by }: ArgsOf<"import">,
  { records, care }: DispatcherPorts,
): Promise<Outcome> {
  return path === undefined
    ? records.importCalibration(calibration ?? {})
    : care.importFrom(path, performed_by ?? null);
}

function act(asked: StationRequest, request: Request, stations: Stations): Promise<Outcome> {
  const { station, performed_by } = asked.args;
  return stations.ask(station, asked, { performed_by: performed_by ?? null, door: request.door });
}

/** The record lives on a disk, so its failing is foreseen: `storage`, with the details in the log. */
async function reading(request: Request, { log }: DispatcherPorts, read: () => Promise<Outcome>): Promise<Outcome> {
  try {
    return await read();
  } catch (error) {
    log.error({ err: error, verb: request.verb, request_id: request.request_id }, "the record could not be read");
    return refused("storage", "The record could not be read.", "The recorder's log says why, under this request_id.");
  }
}

async function oneSet({ set_id, curve }: ArgsOf<"set">, { within }: Request, ports: DispatcherPorts): Promise<Outcome> {
  const { store, curveOf } = ports;
  const kept = await store.set(set_id);
  if (kept === null || (within !== undefined && kept.message.station !== within)) {
    return refused("out-of-range", `No set ${set_id} is kept here.`, "`sets` lists those that are.");
  }
  const { message, log } = kept;
  if (curve !== true) return done({ set: message });
  return done({
    set: message,
    curve: await curveOf(log, message),
    // Columns may be typed arrays, which JSON would write as objects.
    log: { ...log, at_us: Array.from(log.at_us), counts: Array.from(log.counts) },
  });
}

function watch(station: string | undefined, { stream }: Request, stations: Stations): Promise<Outcome> | Outcome {
  if (stream === undefined) {
    return refused("not-permitted", "Watch is a stream, and this door answers once.", "Use a control socket.");
  }
  const { signal, event } = stream;
  if (signal.aborted) return done({});
  return new Promise((resolve) => {
    const stop = stations.watch(station, event);
    const end = (): void => {
      stop();
      resolve(done({}));
    };
    signal.addEventListener("abort", end, { once: true });
  });
}

const HINTS: Readonly<Record<Door, string>> = {
  socket: "Service verbs go to the service socket.",
  mqtt: "control.mqtt in the configuration lists the groups it takes.",
  key: "Use a control socket.",
  simulated: "Use a control socket.",
};

function unknownVerb(verb: unknown, { groups, door }: Request): Outcome {
  if (typeof verb !== "string")
    return refused("bad-request", "The verb is missing or not text.", 'For example "status".');
  const rules: readonly (readonly [string, VerbRule])[] = Object.entries(VERBS);
  const may = rules.flatMap(([name, { group, over_mqtt }]) =>
    groups.includes(group) && !(door === "mqtt" && over_mqtt === false) ? [name] : [],
  );
  const near = closest(verb, may);
  const hint = near === null ? `There are: ${may.join(", ")}.` : `Did you mean ${near}?`;
  return refused("bad-request", `${shown(verb)} is not a verb.`, hint);
}

function unknownStation(station: string, stations: readonly string[]): Outcome {
  const near = closest(station, stations);
  const there = `There are: ${stations.join(", ")}.`;
  return refused(
    "unknown-station",
    `There is no station ${station} here.`,
    near === null ? there : `Did you mean ${near}? ${there}`,
  );
}

function badRequest(verb: Verb, faults: readonly Fault[], args: unknown): Outcome {
  const threshold = (args as { fatigue_threshold?: unknown } | null)?.fatigue_threshold;
  const percent = typeof threshold === "number" && threshold >= 1;
  const said = faults.slice(0, FAULTS_SAID).map((fault) => sayFault(fault).slice(0, 200));
  const message = `${verb}: ${said.join("; ")}`.replace(/[^?]$/, "$&.");
  return percent
    ? refused("bad-request", message, "Fractions are 0..1 here: 40 % is 0.4.")
    : refused("bad-request", message);
}

/** Enough to mend an honest request; a hostile one gets no longer answer than it is worth. */
const FAULTS_SAID = 5;

/** What a stranger typed, short enough to send back. */
const shown = (text: string): string => JSON.stringify(text.length > 40 ? `${text.slice(0, 40)}...` : text);

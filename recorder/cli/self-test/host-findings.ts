/** What is well with the box and with the recorder on it. Pure. */
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { nodeVersionFault } from "../node-version.ts";
import type { Status } from "./answers.ts";
import { fault, good, notice } from "./findings.ts";
import type { HostFacts, StoreDisk } from "./host-facts.ts";

/** Some ten thousand sets, and ten times as many. */
const FULL_BYTES = 200e6;
const FILLING_BYTES = 2e9;
/** Longer than a trainer would wait for the stop; and long enough to be seen in a live value. */
const STOOD_STILL_S = 0.5;
const LATE_S = 0.1;
/** A sound card takes some tens of milliseconds. */
const SLOW_WRITE_S = 2;
const SLUGGISH_WRITE_S = 0.5;
const LITTLE_MEMORY_BYTES = 64e6;
/** Where the processors of common small boxes begin to slow down (common practice, no source). */
const HOT_C = 80;

export function hostFindings(facts: HostFacts, status: Status | null): readonly Finding[] {
  return [
    ...(status === null ? [] : recorderFindings(status)),
    ...(facts.store === null ? [] : storeFindings(facts.store)),
    node(facts),
    ...memory(facts),
    ...load(facts),
    ...power(facts),
  ];
}

/** The recorder itself, when it cannot be asked. */
export const notRunning = (message: string): Finding => {
  const [what = message, remedy = "Look at its log."] = message.split(": ");
  return fault(
    "recorder",
    `The recorder could not be asked: ${what}.`,
    `${remedy.slice(0, 1).toUpperCase()}${remedy.slice(1)}.`,
  );
};

function recorderFindings({ version, health, simulated }: Status): readonly Finding[] {
  const { uptime_s, clock_synced, event_loop, storage, outbox } = health;
  const up = `Recorder ${version} has been running for ${sayTime(uptime_s)}${simulated ? ", with simulated lines" : ""}.`;
  return [
    good("recorder", up, { version, uptime_s, simulated }),
    clock_synced
      ? good("clock", "The clock was set by a time service.")
      : notice(
          "clock",
          "No time service has set the clock: the dates of sets may be wrong, and certificates may not be believed.",
          "Give the box a network with a time service, or a clock with a battery.",
        ),
    loop(event_loop.max_s),
    writes(storage),
    ...(outbox.waiting === 0
      ? []
      : [
          notice(
            "outbox",
            `${outbox.waiting} messages about sets wait for the broker, for ${sayTime(outbox.not_empty_s)} at most.`,
            "See what the broker's findings say.",
            { waiting: outbox.waiting, not_empty_s: outbox.not_empty_s },
          ),
        ]),
  ];
}

function loop(max_s: number): Finding {
  const values = { event_loop_delay_s: max_s };
  const late = `The recorder was at most ${ms(max_s)} late in the last two minutes`;
  if (max_s < LATE_S) return good("delay", `${late}.`, values);
  const remedy = "See what else runs on this box.";
  return max_s >= STOOD_STILL_S
    ? fault("delay", `${late}: a stop may come that much too late.`, remedy, values)
    : notice("delay", `${late}, which can be seen in live values.`, remedy, values);
}

function writes({ trouble, unsaved_sets, slowest_write_s }: Status["health"]["storage"]): Finding {
  const values = { unsaved_sets, slowest_write_s };
  if (trouble !== null || unsaved_sets > 0) {
    const what = trouble ?? `${unsaved_sets} finished sets could not be kept yet.`;
    return fault("storage", what, "Put that right before anybody trains: what is not kept may be lost.", values);
  }
  const took = `The slowest write to the store took ${ms(slowest_write_s)}`;
  if (slowest_write_s < SLUGGISH_WRITE_S) return good("storage", `${took}.`, values);
  const remedy = "See what else uses its disk, or replace an old card.";
  return slowest_write_s >= SLOW_WRITE_S
    ? fault("storage", `${took}: its disk is failing or overloaded.`, remedy, values)
    : notice("storage", `${took}: sets are kept late.`, remedy, values);
}

function storeFindings({ directory, free_bytes, volatile, read_only }: StoreDisk): readonly Finding[] {
  const findings: Finding[] = [];
  if (read_only) {
    const what = `The file system of the store's directory ${directory} may only be read: no set can be kept.`;
    findings.push(fault("disk", what, "Mount it for writing, or put the store elsewhere."));
  }
  if (volatile !== null) {
    const [what = "", remedy = ""] = volatile.split("; ");
    findings.push(fault("disk", `${what}.`, `${remedy.slice(0, 1).toUpperCase()}${remedy.slice(1)}`));
  }
  if (free_bytes === null) return findings;
  const values = { free_bytes };
  const left = `${size(free_bytes)} are free for the store in ${directory}`;
  if (free_bytes < FULL_BYTES) findings.push(fault("free", `Only ${left}.`, "Make space on that disk.", values));
  else if (free_bytes < FILLING_BYTES) {
    findings.push(
      notice(
        "free",
        `${left}: enough for months of sets, if nothing else fills it.`,
        "See what fills that disk.",
        values,
      ),
    );
  } else findings.push(good("free", `${left}.`, values));
  return findings;
}

function node({ node_version }: HostFacts): Finding {
  const values = { node_version };
  return nodeVersionFault(node_version) === null
    ? good("node", `Node ${node_version} is new enough.`, values)
    : fault("node", `Node ${node_version} is older than tidemark needs.`, "Install Node 20.19 or newer.", values);
}

function memory({ memory: known }: HostFacts): readonly Finding[] {
  if (known === null) return [];
  const { total_bytes, available_bytes } = known;
  const left = `${size(available_bytes)} of ${size(total_bytes)} memory are left`;
  return available_bytes < LITTLE_MEMORY_BYTES
    ? [
        notice(
          "memory",
          `Only ${left}.`,
          "See what else runs on this box: the system may end the recorder for want of it.",
          known,
        ),
      ]
    : [good("memory", `${left}.`, known)];
}

function load({ load: known }: HostFacts): readonly Finding[] {
  if (known === null) return [];
  const { five_minutes, processors } = known;
  const what = `${five_minutes.toFixed(1)} programs wanted one of ${processors} processors, in the mean of five minutes`;
  return five_minutes > processors
    ? [notice("load", `${what}: more than there are.`, "See what else runs on this box.", known)]
    : [good("load", `${what}.`, known)];
}

function power({ undervoltage, hottest_C }: HostFacts): readonly Finding[] {
  const findings: Finding[] = [];
  if (undervoltage === true) {
    const what = "The supply of the box was too low: it slows down, and writes to its card may be spoilt.";
    findings.push(fault("supply", what, "Use the supply made for this box, and a short cable."));
  } else if (undervoltage === false) findings.push(good("supply", "The supply of the box has held."));
  if (hottest_C === null) return findings;
  const values = { hottest_C };
  const warm = `The hottest place of the box has ${Math.round(hottest_C)} degrees Celsius`;
  findings.push(
    hottest_C >= HOT_C
      ? notice(
          "temperature",
          `${warm}: it slows down.`,
          "Give it air, or a place that is not beside the motor.",
          values,
        )
      : good("temperature", `${warm}.`, values),
  );
  return findings;
}

const ms = (s: number): string => `${Math.round(1000 * s)} ms`;

function size(bytes: number): string {
  return bytes >= 1e9 ? `${(bytes / 1e9).toFixed(1)} GB` : `${Math.floor(bytes / 1e6)} MB`;
}

function sayTime(s: number): string {
  if (s < 120) return `${Math.round(s)} s`;
  if (s < 7200) return `${Math.round(s / 60)} min`;
  return s < 172_800 ? `${Math.round(s / 3600)} h` : `${Math.round(s / 86_400)} days`;
}

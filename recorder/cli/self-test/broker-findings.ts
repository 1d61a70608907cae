/**
 * What a display would see at the broker: whether it is let in, what stands there, and how evenly and how late live values
 * come. Pure. `at` in a message and the moment it was heard are of the same box's clock, so their difference is an age
 * whether or not anybody has set that clock.
 */
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { presenceTopic, stationTopic } from "../../../protocol/messages/topics.ts";
import type { Heard, Listened } from "../../mqtt/listening.ts";
import { fault, good, notice } from "./findings.ts";

export interface Expected {
  readonly root: string;
  readonly site: string;
  readonly recorder: string;
  /** Of the recorder that runs; null: it could not be asked. */
  readonly boot: string | null;
  readonly stations: readonly ExpectedStation[];
}

export interface ExpectedStation {
  readonly id: string;
  readonly live_rate_Hz: number;
  /** Readings come, so live values are to come at their rate; otherwise one a second says that they do not. */
  readonly measures: boolean;
}

/** Everything a display hears of these stations. */
export function topicsOf({ root, site, recorder, stations }: Expected): readonly string[] {
  const names = ["live", "state", "sensor"] as const;
  const of = (id: string): string[] => names.map((name) => stationTopic(root, site, id, name));
  return [...stations.flatMap(({ id }) => of(id)), presenceTopic(root, site, recorder)];
}

/** `trouble`: why the connection failed, in the sentences of the broker's side; null: it did not. */
export function brokerFindings(listened: Listened, expected: Expected, trouble: string | null): readonly Finding[] {
  const { connected_ms, refused } = listened;
  if (connected_ms === null) return [split("connect", trouble ?? "The broker let nobody in: see its log.")];
  const values = { connected_ms: Math.round(connected_ms) };
  const let_in =
    connected_ms < SLOW_MS
      ? good("connect", `The broker let us in after ${Math.round(connected_ms)} ms.`, values)
      : notice(
          "connect",
          `The broker let us in only after ${Math.round(connected_ms)} ms.`,
          "See the network and the broker's load.",
          values,
        );
  return [
    let_in,
    ...(trouble === null ? [] : [split("connection", trouble)]),
    ...(refused.length === 0 ? [] : [notLetHear(refused)]),
    ...standing(listened.heard, expected, refused),
    ...expected.stations.flatMap((station) => liveFindings(listened, station, expected, refused)),
  ];
}

const SLOW_MS = 1000;
/** Late enough for somebody to see that the display does not follow; and for the stop to be late there. */
const OLD_MS = 150;
const VERY_OLD_MS = 500;
const UNEVEN_MS = 100;
const TOO_FEW = 0.8;

/** Sentences of the broker's side say what is wrong, then after a colon what would do. */
function split(check: string, sentence: string): Finding {
  const at = sentence.lastIndexOf(": ");
  if (at < 0) return fault(check, sentence, "See the broker's log.");
  return fault(check, `${sentence.slice(0, at)}.`, capital(sentence.slice(at + 2)));
}

const capital = (text: string): string => `${text.slice(0, 1).toUpperCase()}${text.slice(1)}`;

function notLetHear(refused: readonly string[]): Finding {
  const more = refused.length > 1 ? ` and ${refused.length - 1} more` : "";
  return fault(
    "rights",
    `The broker does not let this user hear ${refused[0]}${more}.`,
    "Give that user the right to read it there.",
    { refused: refused.length },
  );
}

function standing(heard: readonly Heard[], expected: Expected, refused: readonly string[]): readonly Finding[] {
  const { root, site, recorder, boot, stations } = expected;
  const retained = new Map(heard.filter((one) => one.retained).map(({ topic, payload }) => [topic, payload]));
  const presence = presenceTopic(root, site, recorder);
  const wanted = [
    presence,
    ...stations.flatMap(({ id }) => [stationTopic(root, site, id, "state"), stationTopic(root, site, id, "sensor")]),
  ];
  const missing = wanted.filter((topic) => !retained.has(topic) && !refused.includes(topic));
  const findings: Finding[] = [];
  if (missing.length > 0) {
    const more = missing.length > 1 ? ` and ${missing.length - 1} more` : "";
    findings.push(
      fault(
        "retained",
        `Nothing stands at ${missing[0]}${more}: a display that starts now shows nothing there until something changes.`,
        "See whether the recorder is connected, whether this user may read it, and whether the broker keeps retained messages.",
        { missing: missing.length },
      ),
    );
  } else if (wanted.some((topic) => retained.has(topic))) {
    findings.push(
      good("retained", `State, sensor and presence stand there, ${retained.size} messages.`, {
        retained: retained.size,
      }),
    );
  }
  const there = objectIn(retained.get(presence));
  if (there !== null) findings.push(presenceFinding(there, boot));
  return findings;
}

function presenceFinding(presence: Readonly<Record<string, unknown>>, boot: string | null): Finding {
  if (presence["online"] !== true) {
    const what = "The broker says that the recorder is not there.";
    return fault("presence", what, "See whether the recorder runs, and what `status` says of its broker.");
  }
  if (boot !== null && presence["boot"] !== boot) {
    const what = "The presence that stands there is of another recorder, or of an earlier start of this one.";
    return fault(
      "presence",
      what,
      "See whether two recorders have the same site and name, and whether this one is connected.",
    );
  }
  return good("presence", "The recorder is said to be there.");
}

function liveFindings(
  { heard, lasted_s }: Listened,
  station: ExpectedStation,
  expected: Expected,
  refused: readonly string[],
): readonly Finding[] {
  const { id, live_rate_Hz, measures } = station;
  const topic = stationTopic(expected.root, expected.site, id, "live");
  if (refused.includes(topic)) return [];
  const live = heard.filter((one) => one.topic === topic && !one.retained);
  if (live.length === 0) {
    const what = `No live value of ${id} came in ${lasted_s.toFixed(1)} s, though one a second must.`;
    return [
      fault("live", what, "See whether this user may read it, and whether the recorder is connected to this broker.", {
        station: id,
        live: 0,
      }),
    ];
  }
  const rate_Hz = live.length / lasted_s;
  const lost = gapsIn(live);
  const ages = live.flatMap(ageOf).sort((a, b) => a - b);
  const [middle, late, early] = [quantile(ages, 0.5), quantile(ages, 0.95), quantile(ages, 0.05)];
  const values = { station: id, rate_Hz, lost, age_ms: middle, age_95_ms: late, jitter_ms: late - early };
  const came = `Live values of ${id} come ${rate_Hz.toFixed(1)} times a second`;
  const findings: Finding[] = [];
  if (measures && rate_Hz < TOO_FEW * live_rate_Hz) {
    findings.push(
      notice(
        "live",
        `${came}, and ${live_rate_Hz} are configured.`,
        "See the delay of the recorder, and the network between it and the broker.",
        values,
      ),
    );
  }
  if (lost > 0) {
    findings.push(
      notice(
        "live-gaps",
        `${lost} live values of ${id} were lost on the way.`,
        "See the network, and whether the broker drops what its clients do not take.",
        values,
      ),
    );
  }
  const aged = `${Math.round(middle)} ms old when they come, ${Math.round(late)} ms at most but for one in twenty`;
  if (late >= OLD_MS || late - early >= UNEVEN_MS) {
    const say = late >= VERY_OLD_MS ? fault : notice;
    findings.push(
      say(
        "live-age",
        `Live values of ${id} are ${aged}.`,
        "See the network between recorder, broker and display, and the load of both.",
        values,
      ),
    );
  }
  return findings.length > 0 ? findings : [good("live", `${came}, ${aged}.`, values)];
}

/** Numbers that were left out, within one start of the recorder. Before the first and after the last nothing is missed. */
function gapsIn(live: readonly Heard[]): number {
  let lost = 0;
  let before: { readonly boot: unknown; readonly seq: number } | null = null;
  for (const { payload } of live) {
    const message = objectIn(payload);
    const [boot, seq] = [message?.["boot"], message?.["live_seq"]];
    if (typeof seq !== "number") continue;
    if (before !== null && before.boot === boot && seq > before.seq) lost += seq - before.seq - 1;
    before = { boot, seq };
  }
  return lost;
}

function ageOf({ payload, wall_ms }: Heard): number[] {
  const at = objectIn(payload)?.["at"];
  const at_ms = typeof at === "string" ? Date.parse(at) : Number.NaN;
  return Number.isNaN(at_ms) ? [] : [Math.max(0, wall_ms - at_ms)];
}

/** Of values in order; 0 for none. */
function quantile(sorted: readonly number[], share: number): number {
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
}

function objectIn(text: string | undefined): Readonly<Record<string, unknown>> | null {
  try {
    const value: unknown = JSON.parse(text ?? "");
    return typeof value === "object" && value !== null ? (value as Record<string, unknown>) : null;
  } catch {
    return null;
  }
}

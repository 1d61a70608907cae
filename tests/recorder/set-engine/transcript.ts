/** Writes what the engine tells of a scenario as text that a person can review. Times in s, forces in N. */
import type { MuscleAction } from "../../../protocol/vocabulary.ts";
import type { EffortReport, EngineEffect, SetResult } from "../../../recorder/set-engine/effects.ts";
import { arm, step } from "../../../recorder/set-engine/engine.ts";
import type { EngineInput } from "../../../recorder/set-engine/inputs.ts";
import type { SetSetup } from "../../../recorder/set-engine/setup.ts";
import type { EngineState } from "../../../recorder/set-engine/state.ts";
import { viewOf } from "../../../recorder/set-engine/view.ts";
import { corners, readingsOf, type SetupChanges, setupOf, type Trace, together } from "./run.ts";

export interface Scenario {
  readonly name: string;
  /** What happens, and what should come of it. */
  readonly says: string;
  readonly setup: SetupChanges;
  /** Force along straight lines between corners [s, N]. */
  readonly corners: readonly (readonly [number, number])[];
  /** From when on the board says which muscle action it is. */
  readonly actions?: readonly (readonly [number, MuscleAction | null])[];
  readonly others?: readonly EngineInput[];
  readonly trace?: Pick<Trace, "rate_Hz" | "noise_N" | "jitter" | "lost">;
  readonly lasts_s: number;
}

export function transcribe(scenario: Scenario): string {
  const rate_Hz = scenario.trace?.rate_Hz ?? 80;
  const setup = setupOf({ reading_rate_Hz: rate_Hz, ...scenario.setup });
  const lines = [...wrapped(scenario.says), "", ...describeSetup(scenario, setup), ""];
  const { actions } = scenario;
  const readings = readingsOf({
    ...scenario.trace,
    force: corners(...scenario.corners),
    ...(actions === undefined ? {} : { action: (at_s) => actions.findLast(([from_s]) => at_s >= from_s)?.[1] ?? null }),
    lasts_s: scenario.lasts_s,
    rate_Hz,
  });
  let state: EngineState = arm(setup, 0);
  let floor_N = 0;
  for (const input of together(readings, ...(scenario.others ?? []))) {
    const next = step(state, input);
    state = next.state;
    if (input.kind !== "reading") lines.push(at(input.at_us, `<- ${asked(input)}`));
    for (const effect of next.effects) lines.push(...told(input.at_us, effect));
    const view = viewOf(state);
    if (view.phase === "armed") floor_N = 0;
    // A floor that creeps up is shown every 5 %.
    if (view.phase !== null && view.floor_N !== null && view.floor_N > 1.05 * floor_N) {
      floor_N = view.floor_N;
      lines.push(at(input.at_us, `floor ${N(floor_N)}, best ${N(view.best_N)}`));
    }
  }
  if (state.is !== "over" && state.is !== "disarmed") lines.push(at(scenario.lasts_s * 1e6, `(still ${state.is})`));
  return `${lines.join("\n")}\n`;
}

const N = (force_N: number | null): string => (force_N === null ? "-" : `${force_N.toFixed(1)} N`);
const s = (us: number): string => (us / 1e6).toFixed(3);
const percent = (fraction: number | null): string =>
  fraction === null ? "-" : `${(100 * fraction).toFixed(2).replace(/^-(0\.00)$/, "$1")} %`;
const at = (us: number, what: string): string => `${s(us).padStart(8)}  ${what}`;

function describeSetup(scenario: Scenario, setup: SetSetup): string[] {
  const loss = setup.fatigue_threshold === null ? "no threshold" : `loss ${100 * setup.fatigue_threshold} %`;
  const { style, resistance, options, ...changed } = scenario.setup;
  const { fatigue_threshold, ...others } = { ...changed, ...options };
  const said = Object.entries({ ...others, ...scenario.trace }).map(
    ([name, value]) => `${name} ${JSON.stringify(value)}`,
  );
  const force = scenario.corners.map(([at_s, force_N]) => `${at_s}:${force_N}`);
  const actions = (scenario.actions ?? []).map(([at_s, action]) => `${at_s}:${action ?? "unknown"}`);
  return [
    ...wrapped([`setup   ${setup.style}, ${loss}, ${setup.resistance}`, ...said].join(", "), "        "),
    ...wrapped(`force   ${force.join(" ")}`, "        "),
    ...(actions.length === 0 ? [] : wrapped(`action  ${actions.join(" ")}`, "        ")),
  ];
}

function asked(input: EngineInput): string {
  if (input.kind === "end") return `end${input.because === null ? "" : `, ${input.because}`}`;
  return input.kind === "fault" ? input.fault : input.kind;
}

function told(us: number, effect: EngineEffect): string[] {
  switch (effect.do) {
    case "phase":
      return [at(us, effect.phase)];
    case "effort":
      return [at(us, effortLine(effect.effort))];
    case "nearing":
      return [at(us, effect.on ? "nearing the floor" : "no longer nearing the floor")];
    case "ceiling":
      return [at(us, effect.above ? "above the ceiling" : "back under the ceiling")];
    case "resting-taken":
      return [at(us, `resting force taken: ${N(effect.force_N)}`)];
    case "resting-refused":
      return [at(us, `resting force refused, ${effect.code}: ${effect.message}`)];
    case "disarmed":
      return [at(us, `DISARMED, ${effect.because}`)];
    case "over":
      return resultLines(us, effect.result);
    case "rest-half":
    case "sudden-loss":
    case "false-start":
      return [at(us, effect.do)];
  }
}

function effortLine(effort: EffortReport): string {
  const marks = [
    effort.counted ? null : "a touch",
    effort.brief ? "brief" : null,
    effort.decides ? null : "not compared",
    effort.below_floor === null ? null : effort.below_floor ? "BELOW the floor" : "above the floor",
  ].filter((mark) => mark !== null);
  const kind = effort.muscle_action === null ? "" : ` ${effort.muscle_action}`;
  return [
    `effort ${effort.effort_number}${kind}: ${s(effort.start_us)} to ${s(effort.end_us)} s`,
    `peak ${N(effort.peak_N)}`,
    `floor ${N(effort.floor_N)}`,
    `${effort.impulse_N_s.toFixed(1)} N.s`,
    ...marks,
  ].join(", ");
}

function resultLines(us: number, result: SetResult): string[] {
  const loss = result.best_N === null || result.final_N === null ? null : 1 - result.final_N / result.best_N;
  const counted = result.efforts.filter((effort) => effort.counted).length;
  const because = result.ended_because === null ? "" : ` (${result.ended_because})`;
  const bests = [result.concentric_best_N, result.eccentric_best_N];
  return [
    at(us, `OVER, ${result.stop_reason}${because}, decided at ${s(result.decided_us)} s`),
    ...[
      `best ${N(result.best_N)}${result.best_unconfirmed ? " (unconfirmed)" : ""}, floor ${N(result.floor_N)}, final ${N(result.final_N)}, loss ${percent(loss)}, threshold ${result.reached_threshold ? "reached" : "not reached"}`,
      `from ${s(result.onset_us)} s for ${result.duration_s.toFixed(3)} s, ${counted} of ${result.efforts.length} efforts counted, ${result.time_under_tension_s.toFixed(3)} s under tension, ${result.impulse_N_s.toFixed(1)} N.s`,
      `decline ${percent(result.decline_per_s)} a second, ${percent(result.decline_per_effort)} an effort, decided by ${result.decided_by}, resting ${N(result.resting_N)}`,
      ...(bests.every((best_N) => best_N === null)
        ? []
        : [`concentric best ${N(bests[0] ?? null)}, eccentric best ${N(bests[1] ?? null)}`]),
    ].map((line) => `          ${line}`),
  ];
}

function wrapped(text: string, indent = ""): string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of text.split(" ")) {
    if (line !== "" && line.length + word.length >= 100) {
      lines.push(line);
      line = indent;
    }
    line += line === "" || line === indent ? word : ` ${word}`;
  }
  return [...lines, line];
}

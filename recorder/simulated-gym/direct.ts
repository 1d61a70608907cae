/**
 * Carries the director's acts out: people and keys at the station itself, requests through whoever owns the control.
 *
 * Driven by the passing of device time and by the phases it is told, so it needs no clock.
 */
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import type { Phase } from "../../protocol/vocabulary.ts";
import { nextActs, OPENING, type Plan } from "./director.ts";
import type { SimulatedGym } from "./gym.ts";

export interface Requests {
  /** Asks for a set as a tablet would. Its answer is not waited for: the phase tells. */
  begin(args: BeginArgs): void;
  /** The plan of this station is done. */
  closed(station: string): void;
}

/** Directs every station that has a plan. The answer is to be told of each change of a station's phase. */
export function directGym(
  gym: SimulatedGym,
  plans: readonly Plan[],
  requests: Requests,
): (station: string, phase: Phase) => void {
  const phases = new Map<string, (phase: Phase) => void>();
  for (const plan of plans) {
    const station = gym.station(plan.station);
    let state = OPENING;
    let phase: Phase = "idle";
    const act = (): void => {
      const step = nextActs(plan, state, { at_s: station.elapsed_s, phase });
      state = step.state;
      for (const what of step.acts) {
        if (what.do === "sit") station.sit(what.trainee);
        else if (what.do === "press") station.press(what.key);
        else if (what.do === "begin") requests.begin(what.args);
        else requests.closed(plan.station);
      }
    };
    station.onTime(act);
    phases.set(plan.station, (now) => {
      phase = now;
      act();
    });
  }
  return (station, phase) => phases.get(station)?.(phase);
}

/**
 * What the trainer and the trainees of the simulated gym do next at one station. Pure: phases and time in, acts out.
 *
 * A visit is one set: the trainee sits down, the trainer begins the set, the trainee works when the lamp says so, the set
 * ends by itself, the trainee gets up. Time is the station's device time in s, so a gym that runs faster than the clock
 * rests faster too. A begin that came to nothing, or a set that was never started, is asked for again.
 */
import type { BeginArgs } from "../../protocol/requests/verbs.ts";
import type { Phase } from "../../protocol/vocabulary.ts";
import type { Trainee } from "./trainee.ts";

export interface Visit {
  readonly trainee: Trainee;
  /** Before the visit. */
  readonly pause_s: number;
  /** A request from the tablet, or key 1 on the machine. */
  readonly begun_by: { readonly request: Omit<BeginArgs, "station"> } | { readonly key: 1 };
}

export interface Plan {
  readonly station: string;
  /** Repeated from the start when all are done. */
  readonly visits: readonly Visit[];
  /** Sets after which the station closes; null: never. */
  readonly closes_after: number | null;
}

export interface DirectorState {
  readonly visit: number;
  readonly doing: "pausing" | "begun" | "under-way" | "getting-up" | "closed";
  /** When `doing` began. */
  readonly since_s: number;
  /** A pause of its own after a begin that came to nothing; null: the visit's. */
  readonly pause_s: number | null;
}

export type Act =
  | { readonly do: "sit"; readonly trainee: Trainee | null }
  | { readonly do: "begin"; readonly args: BeginArgs }
  | { readonly do: "press"; readonly key: 1 }
  /** The last set of the plan is over. */
  | { readonly do: "close" };

export interface DirectorStep {
  readonly state: DirectorState;
  readonly acts: readonly Act[];
}

/** A begin that was refused. Long, because a gym that runs flat out has a minute over before a slow disk has answered. */
const BEGUN_LIMIT_S = 60;
const TRY_AGAIN_S = 5;
const GETTING_UP_S = 6;

export const OPENING: DirectorState = { visit: 0, doing: "pausing", since_s: 0, pause_s: null };

export function nextActs(
  plan: Plan,
  before: DirectorState,
  now: { readonly at_s: number; readonly phase: Phase },
): DirectorStep {
  const { at_s, phase } = now;
  const visit = plan.visits[before.visit % plan.visits.length]!;
  const waited_s = at_s - before.since_s;
  const running = phase === "armed" || phase === "working" || phase === "resting";
  const stay: DirectorStep = { state: before, acts: [] };
  const to = (doing: DirectorState["doing"], ...acts: Act[]): DirectorStep => ({
    state: { ...before, doing, since_s: at_s, pause_s: null },
    acts,
  });
  switch (before.doing) {
    case "pausing":
      if (running) return to("under-way", { do: "sit", trainee: visit.trainee });
      if (waited_s < (before.pause_s ?? visit.pause_s)) return stay;
      return to("begun", { do: "sit", trainee: visit.trainee }, beginning(plan.station, visit));
    case "begun":
      if (running) return to("under-way");
      return waited_s < BEGUN_LIMIT_S ? stay : again(before, at_s);
    case "under-way":
      if (running) return stay;
      return phase === "finished" ? to("getting-up") : again(before, at_s);
    case "getting-up": {
      if (waited_s < GETTING_UP_S) return stay;
      const visits = before.visit + 1;
      const closing = plan.closes_after !== null && visits >= plan.closes_after;
      const state: DirectorState = {
        visit: visits,
        doing: closing ? "closed" : "pausing",
        since_s: at_s,
        pause_s: null,
      };
      const up: Act = { do: "sit", trainee: null };
      return { state, acts: closing ? [up, { do: "close" }] : [up] };
    }
    case "closed":
      return stay;
  }
}

function beginning(station: string, visit: Visit): Act {
  if ("key" in visit.begun_by) return { do: "press", key: visit.begun_by.key };
  return { do: "begin", args: { station, ...visit.begun_by.request } };
}

function again(before: DirectorState, at_s: number): DirectorStep {
  const state: DirectorState = { ...before, doing: "pausing", since_s: at_s, pause_s: TRY_AGAIN_S };
  return { state, acts: [{ do: "sit", trainee: null }] };
}

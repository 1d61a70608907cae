/**
 * What a tag at the machine asks for. Pure. A tag names who trains: it sets up a set, or changes whose set is set up; once
 * force is on it changes nothing. Whom it stands for is in the record, so it is decided in two steps. Times are the
 * device's, in microseconds.
 */
import { traineeCode } from "../../protocol/messages/parts.ts";
import type { Phase } from "../../protocol/vocabulary.ts";

export interface TagPresented {
  readonly tag: string;
  readonly phase: Phase;
  /** What has the station, as the reason of a refusal; null: nothing. */
  readonly taken_by: string | null;
  /** What an earlier tag or key asked for is still under way: its owner is looked up, or its begin. */
  readonly waiting: boolean;
  /** The newest tag before this one; null: none yet. */
  readonly last: { readonly tag: string; readonly since_us: number } | null;
}

export type TagDecision =
  | { readonly do: "look-up" }
  /** Still the same presentation: readers repeat what lies on them. */
  | { readonly do: "nothing" }
  /** Counted, so that somebody can see that it was tried. */
  | { readonly do: "ignore"; readonly why: string }
  /** Three short blinks. */
  | { readonly do: "refuse"; readonly why: string };

/** Within this the same tag is one presentation, however often it is read. */
const ONE_PRESENTATION_US = 5_000_000;

export function decideTag({ tag, phase, taken_by, waiting, last }: TagPresented): TagDecision {
  if (last !== null && last.tag === tag && last.since_us <= ONE_PRESENTATION_US) return { do: "nothing" };
  const busy = whileBusy(phase, taken_by);
  if (busy !== null) return busy;
  // One at a time, or a reader that hammers would bury the record under its questions.
  return waiting ? { do: "ignore", why: "a key or another tag was first and is being carried out" } : { do: "look-up" };
}

export interface TagOwner {
  readonly tag: string;
  /** Whom the tag is linked to; null: nobody, so it stands for the trainee of its own code. */
  readonly linked: string | null;
  readonly phase: Phase;
  readonly taken_by: string | null;
  /** Whose set is armed; null: nobody named, or none is. */
  readonly armed_for: string | null;
}

export type OwnerDecision =
  /** With the trainee alone: whatever else a begin leaves out is found as for any begin. */
  { readonly do: "begin"; readonly trainee: string } | Exclude<TagDecision, { do: "look-up" }>;

export function decideOwner({ tag, linked, phase, taken_by, armed_for }: TagOwner): OwnerDecision {
  const busy = whileBusy(phase, taken_by);
  if (busy !== null) return busy;
  const trainee = linked ?? tag;
  if (!traineeCode.safeParse(trainee).success) {
    const why = `The tag ${tag} is linked to nobody, and no trainee can have that code: link it with tag-save.`;
    return { do: "refuse", why };
  }
  // Set up for them already, perhaps with more than a tag can say.
  return trainee === armed_for ? { do: "nothing" } : { do: "begin", trainee };
}

function whileBusy(phase: Phase, taken_by: string | null): Exclude<TagDecision, { do: "look-up" }> | null {
  if (taken_by !== null) return { do: "refuse", why: taken_by };
  return phase === "working" || phase === "resting" ? { do: "ignore", why: "a set is running" } : null;
}

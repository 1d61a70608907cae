/**
 * One trainee out of everything that is kept here. First the stations forget them, then their sets go, piece by piece, each
 * with its tombstone, then whatever else names them; the last thing to go is the code in the erasure's own row.
 */
import type { EraseResult } from "../../protocol/requests/care-results.ts";
import { done, type Outcome, refused } from "../../protocol/requests/response.ts";
import type { ArgsOf } from "../../protocol/requests/verbs.ts";
import type { Refusal } from "../../protocol/vocabulary.ts";
import type { ErasedAround, Erasure } from "../care-ports.ts";
import { instant } from "../station/exchange.ts";
import type { CarePorts } from "./care.ts";
import { type Gone, runErasure } from "./erasing-pieces.ts";
import { forgetAsideOf } from "./put-aside.ts";
import { stillHeld } from "./still-held.ts";

export async function erase({ trainee, performed_by }: ArgsOf<"erase">, ports: CarePorts): Promise<Outcome> {
  const busy = inUse(trainee, ports);
  if (busy !== null) return { ok: false, error: busy };
  // From here on nobody begins for them, and not after a failure either: half a record must not come back to life.
  ports.erasing.add(trainee);
  const { store, pieces, now, log } = ports;
  try {
    pieces.forget({ trainee, tags: [], set_ids: [] });
    const wish = { trainee, ended_before: null, asked_at: instant(now()), performed_by: performed_by ?? null };
    const { erasure, around } = await store.beginErasure(wish);
    pieces.forget({ trainee, tags: around.tags, set_ids: [] });
    const gone = await eraseWhole(erasure, ports);
    if (gone === null)
      return refused("busy", "The recorder stops; the erasure goes on at its next start.", AFTER_START);
    const all = withAround(gone, around);
    const still_held = [...(await stillHeld(ports.path, all))];
    log.info({ sets: all.sets, plans: all.plans, tags: all.tags }, "A trainee was erased.");
    const { sets, plans, tags, outbox } = all;
    return done({
      sets,
      plans,
      tags,
      outbox,
      others: all.others,
      claims: all.claims,
      still_held,
    } satisfies EraseResult);
  } catch (error) {
    log.error({ err: error }, "An erasure is not done yet.");
    return refused("storage", `The erasure is not done: ${(error as Error).message}.`, AGAIN);
  }
}

const AFTER_START = "Look into `tidemark sets` after the start, and ask again if you want to know what still holds it.";
const AGAIN = "Ask again; what is left of it is also gone on with every ten minutes, and at the next start.";

/** All pieces, and the files beside the store; null: the recorder stops first. */
export async function eraseWhole(erasure: Erasure, ports: CarePorts): Promise<Gone | null> {
  const { trainee } = erasure;
  if (trainee !== null) await forgetAsideOf(ports.path, trainee);
  const gone = await runErasure(erasure, ports.pieces);
  if (gone !== null && trainee !== null) ports.erasing.delete(trainee);
  return gone;
}

const withAround = (gone: Gone, { plans, tags, claims, running }: ErasedAround): Gone => ({
  ...gone,
  plans: gone.plans + plans,
  tags: gone.tags + tags.length,
  claims: gone.claims + claims,
  running: gone.running + running,
});

/** A set of theirs, or one that they asked for, is not in the store yet; null: none is. */
function inUse(trainee: string, { loops, waiting }: CarePorts): Refusal | null {
  const names = (facts: { readonly trainee: string | null; readonly performed_by: string | null }): boolean =>
    facts.trainee === trainee || facts.performed_by === trainee;
  for (const { id, station } of loops.values()) {
    if (station.set === null || !names(station.set.path.facts)) continue;
    const message = `A set that names ${trainee} is set up or running at ${id}.`;
    return { code: "busy", message, hint: "End it first, or wait for its end." };
  }
  for (const { message, log } of waiting()) {
    const arm = log.arm as { readonly performed_by?: string | null } | null;
    if (!names({ trainee: message.trainee, performed_by: arm?.performed_by ?? null })) continue;
    const what = `A set that names ${trainee} is over at ${message.station} and waits to be kept.`;
    return { code: "busy", message: what, hint: "Ask again once the recorder can write." };
  }
  return null;
}

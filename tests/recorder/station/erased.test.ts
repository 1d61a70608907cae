import { expect, test } from "vitest";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import { withoutErased } from "../../../recorder/station/erased.ts";
import { type Finished, newStation, type RunningSet, type Station, withDesk } from "../../../recorder/station/state.ts";
import { configurationIn } from "../run/gym-service.ts";

const STATION = newStation(configurationIn("/nowhere").station[0]!, true);
const facts = (trainee: string, set_id = "s-1"): { path: { facts: object } } => ({
  path: { facts: { trainee, set_id } },
});
const shown = (trainee: string, set_id = "s-0"): SetMessage => ({ trainee, set_id }) as SetMessage;
const finished = (trainee: string, comparable: SetMessage | null): Station =>
  withDesk(STATION, {
    finished: { ...facts(trainee), comparable, stop_reason: "let-go", until_ms: 1 } as unknown as Finished,
  });
const ERASED = { trainee: "T-1", tags: ["band-1"], set_ids: [] };

test("what was last on show is theirs and goes; one of a longer code stays", () => {
  expect(withoutErased(finished("T-1", null), ERASED).desk.finished).toBeNull();
  const other = finished("T-10", shown("T-10"));
  expect(withoutErased(other, ERASED)).toBe(other);
});

test("a single set goes wherever it is on show, and its trainee stays", () => {
  const sets = { trainee: null, tags: [], set_ids: ["s-0"] };
  const left = withoutErased(finished("T-10", shown("T-10")), sets).desk.finished;
  expect(left).toMatchObject({ comparable: null, stop_reason: "let-go" });
  expect(withoutErased(finished("T-10", null), { ...sets, set_ids: ["s-1"] }).desk.finished).toBeNull();
  const running = { ...STATION, set: { ...facts("T-10"), comparable: shown("T-10") } as unknown as RunningSet };
  expect(withoutErased(running, sets).set?.comparable).toBeNull();
});

test("who was named last, and the tag, are forgotten", () => {
  const named = (trainee: string, tag: string): Station =>
    withDesk(STATION, { last_named: { trainee, at_us: 1 }, last_tag: { tag, at_us: 1 } });
  expect(withoutErased(named("T-1", "band-1"), ERASED).desk).toMatchObject({ last_named: null, last_tag: null });
  expect(withoutErased(named("T-10", "T-1"), ERASED).desk).toMatchObject({
    last_named: { trainee: "T-10" },
    last_tag: null,
  });
  const nobody = withDesk(STATION, { last_named: { trainee: null, at_us: 1 } });
  expect(withoutErased(nobody, { ...ERASED, trainee: null })).toBe(nobody);
});

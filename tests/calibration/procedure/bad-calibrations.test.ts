/** Every way a calibration is spoilt that this room knows of: each is refused, with a sentence of its own and what would do. */
import { describe, expect, it } from "vitest";
import type { ProcedureInput } from "../../../calibration/procedure/procedure-state.ts";
import { ACCEPT, BEGIN, Bench, check, FACTS, IN_FORCE, LOAD_N, load, ZERO } from "./procedure-bench.ts";

const open = (): Bench => new Bench().give(BEGIN);
const zeroed = (): Bench => open().take(ZERO, 0);
const loaded = (): Bench => zeroed().take(load(100), LOAD_N);
const inUse = (): Bench => new Bench().give({ ...BEGIN, facts: { ...FACTS, in_force: IN_FORCE } });
const asked = { request: "bad" } as const;
const fromAbove = (mass_kg: number): ProcedureInput => ({ ...load(mass_kg, "bad"), loading: "decreasing" }) as never;
const BAD_CHECK = check(50, "bad");

/** What is wrong, how it comes about, and the beginning of what is said. */
const SPOILT: readonly (readonly [string, () => Bench, string])[] = [
  [
    "a load that swings",
    () => zeroed().take({ ...load(100), ...asked }, (s) => LOAD_N + 30 * Math.sin(9 * s)),
    "not-still: The reading swung",
  ],
  [
    "a load that still sinks",
    () => zeroed().take({ ...load(100), ...asked }, (s) => LOAD_N - 3 * s),
    "not-still: The reading drifted",
  ],
  [
    "a line that breaks off and on",
    () => {
      const bench = open().give({ ...ZERO, ...asked });
      for (let time = 0; time < 13; time += 1) {
        bench.read(0, 9);
        bench.at_us += 1_000_000;
      }
      return bench;
    },
    "sensor-fault: The readings broke off",
  ],
  [
    "a load known too badly",
    () => zeroed().take({ kind: "load", ...asked, mass_kg: 100, relative_tolerance: 0.03 }, LOAD_N),
    "out-of-range: The scale would be uncertain by 3.46 % at 2500 N, mostly from the load tolerance",
  ],
  [
    "a lever far from level",
    () =>
      zeroed().take(
        { kind: "load", ...asked, mass_kg: 100, relative_tolerance: 0.001, lever_angle_deg: 40 },
        LOAD_N * Math.cos((40 * Math.PI) / 180),
      ),
    "out-of-range: The scale would be uncertain by 3.45 % at 2500 N, mostly from the lever angle",
  ],
  [
    "a bearing that holds back",
    () =>
      zeroed()
        .take(load(100), LOAD_N - 60)
        .take(fromAbove(100), LOAD_N + 60),
    "out-of-range: The scale would be uncertain by 3.93 % at 2500 N, mostly from the friction",
  ],
  ["a span under 2 % of capacity", () => zeroed().give(load(10, "bad")), "out-of-range: A load of 10 kg puts 98.1 N"],
  [
    "a load above the load path's limit",
    () => zeroed().give(load(420, "bad")),
    "out-of-range: A load of 420 kg puts 4120 N on a load path",
  ],
  [
    "a load above the cell's capacity",
    () => zeroed().give(load(520, "bad")),
    "out-of-range: A load of 520 kg puts 5100 N on a cell",
  ],
  [
    "a load of nothing",
    () => zeroed().give({ kind: "load", ...asked, force_N: 0 }),
    "out-of-range: The load puts no force",
  ],
  ["no load stated", () => zeroed().give({ kind: "load", ...asked }), "bad-request: The load must be given once"],
  [
    "a lever where there is none",
    () => zeroed().give({ kind: "load", ...asked, mass_kg: 100, at: "cell", lever_angle_deg: 5 }),
    "bad-request: A load at the cell has no lever angle",
  ],
  [
    "an amplifier at the end of its range",
    () => zeroed().take({ ...load(100), ...asked }, 12_000),
    "sensor-fault: The amplifier was at the end of its range",
  ],
  [
    "the same point twice",
    () => zeroed().take({ ...load(100), ...asked }, 0),
    "out-of-range: Loaded and unloaded read the same",
  ],
  [
    "another load from above than from below",
    () => loaded().give(fromAbove(90)),
    "out-of-range: From below it was a load of 981 N, and this is one of 883 N",
  ],
  [
    "a load before the unloaded point",
    () => open().give(load(100, "bad")),
    "bad-request: The unloaded point comes first",
  ],
  ["a check before the load point", () => zeroed().give(BAD_CHECK), "bad-request: The new scale is not complete"],
  ["a check with no scale at all", () => open().give(BAD_CHECK), "no-calibration: No record is in force here"],
  [
    "a check load that reads 5 % low",
    () =>
      loaded()
        .take(check(50), 0.95 * (LOAD_N / 2))
        .give({ ...ACCEPT, ...asked }),
    "out-of-range: The check load of 491 N reads 5 % too little",
  ],
  [
    "a zero that does not come back",
    () =>
      loaded()
        .take(check(50), LOAD_N / 2)
        .take({ kind: "check", request: "empty", force_N: 0, loading: "decreasing" }, 45)
        .give({ ...ACCEPT, ...asked }),
    "out-of-range: The scale would be uncertain by 2.09 % at 2500 N, mostly from the zero return",
  ],
  [
    "a line that nothing was checked by",
    () => loaded().give({ ...ACCEPT, ...asked }),
    "bad-request: No check load was hung",
  ],
  ["no load point", () => zeroed().give({ ...ACCEPT, ...asked }), "bad-request: The load point is missing"],
  ["nothing taken", () => open().give({ ...ACCEPT, ...asked }), "bad-request: Nothing was taken yet"],
  [
    "nothing but the empty sensor checked",
    () =>
      inUse()
        .take({ kind: "check", request: "empty", force_N: 0, loading: "increasing" }, 0)
        .give({ ...ACCEPT, ...asked }),
    "bad-request: Nothing but the empty sensor was checked",
  ],
  [
    "a due that is past",
    () =>
      loaded()
        .take(check(50), LOAD_N / 2)
        .give({ ...ACCEPT, ...asked, due: "2026-11-24T09:05:00.000Z" }),
    "out-of-range: The day on which it is due, 2026-11-24, is not after today",
  ],
  [
    "electronics that are cold",
    () => new Bench().give({ ...BEGIN, ...asked, facts: { ...FACTS, powered_up_at_us: 0 } }),
    "not-still: The electronics are warming up",
  ],
  [
    "a window that is running",
    () =>
      open()
        .give(ZERO)
        .give({ ...ACCEPT, ...asked }),
    "busy: A still window is being taken",
  ],
  ["somebody else at it", () => open().give({ ...BEGIN, ...asked }), "busy: Station leg-press is being calibrated"],
  ["none begun", () => new Bench().give({ ...ZERO, ...asked }), "bad-request: No calibration is open"],
  [
    "a sensor that falls silent",
    () =>
      open()
        .give({ ...ZERO, ...asked })
        .give({ kind: "fault", detail: "It fell silent." }),
    "sensor-fault: It fell silent",
  ],
  [
    "a board that starts anew",
    () => {
      const { board, amplifier, gain } = FACTS;
      return open()
        .give({ ...ZERO, ...asked })
        .give({ kind: "epoch", board, amplifier, gain, powered_up_at_us: null });
    },
    "sensor-fault: The sensor's line was interrupted",
  ],
  [
    "going on as if the board had not",
    () => {
      const { board, amplifier, gain } = FACTS;
      const epoch = { kind: "epoch", board, amplifier, gain, powered_up_at_us: null } as const;
      return loaded().give(epoch).give(BAD_CHECK);
    },
    "bad-request: The points taken so far are gone",
  ],
];

describe("a calibration is spoilt by", () => {
  it.each(SPOILT)("%s", (_what, spoil, said) => {
    const bench = spoil();
    const answer = bench.answer("bad");
    expect(bench.error("bad").slice(0, said.length)).toBe(said);
    // And what would do.
    expect(answer).toMatchObject({ ok: false, error: { hint: expect.stringMatching(/\.$/) } });
    expect(bench.effects.some((effect) => effect.do === "accepted" || effect.do === "checked")).toBe(false);
  });

  it("each of which has a sentence of its own", () => {
    const said = SPOILT.map(([, spoil]) => spoil().error("bad"));
    expect(new Set(said).size).toBe(SPOILT.length);
  });

  it("and an unsynced clock does not know what is past", () => {
    const bench = loaded().take(check(50), LOAD_N / 2);
    bench.give({ ...ACCEPT, ...asked, due: "2020-01-01T00:00:00.000Z", clock_synced: false });
    expect(bench.answer("bad")?.ok).toBe(true);
  });
});

import { describe, expect, it } from "vitest";
import { PHASES } from "../../../protocol/vocabulary.ts";
import { decideOwner, decideTag, type TagOwner, type TagPresented } from "../../../recorder/station/tags.ts";
import { inventedSet } from "../store/invented.ts";
import { type Bench, holdCurve, KNOWN, readyBench, repetitions } from "./bench.ts";

const S = 1_000_000;
const HOLD = { style: "hold", fatigue_threshold: 0.4 } as const;
const presented = (given: Partial<TagPresented>) =>
  decideTag({ tag: "band-0142", phase: "idle", taken_by: null, waiting: false, last: null, ...given });
const owner = (given: Partial<TagOwner>) =>
  decideOwner({ tag: "band-0142", linked: null, phase: "idle", taken_by: null, armed_for: null, ...given });

describe("what a tag asks for", () => {
  it.each([
    ["idle", "look-up", "begin"],
    ["armed", "look-up", "begin"],
    ["working", "ignore", "ignore"],
    ["resting", "ignore", "ignore"],
    ["finished", "look-up", "begin"],
  ] as const)("%s: %s, then %s", (phase, first, then) => {
    expect(presented({ phase }).do).toBe(first);
    expect(owner({ phase }).do).toBe(then);
  });

  it.each(PHASES)("%s, during a calibration: refused", (phase) => {
    const refused = { do: "refuse", why: "a calibration is under way here" };
    expect(presented({ phase, taken_by: "a calibration is under way here" })).toEqual(refused);
    expect(owner({ phase, taken_by: "a calibration is under way here" })).toEqual(refused);
  });

  it("the same tag within 5 s is one, another one is not, and so it is with the same one later", () => {
    const again = (tag: string, since_us: number) => presented({ last: { tag, since_us } }).do;
    expect(again("band-0142", 5 * S)).toBe("nothing");
    expect(again("band-0142", 5 * S + 1)).toBe("look-up");
    expect(again("band-0143", 1)).toBe("look-up");
  });

  it("is looked up one at a time: another one meanwhile is ignored, where it would not be refused anyway", () => {
    const ignored = { do: "ignore", why: "a key or another tag was first and is being carried out" };
    for (const phase of ["idle", "armed", "finished"] as const) {
      expect(presented({ phase, waiting: true })).toEqual(ignored);
    }
    expect(presented({ waiting: true, taken_by: "a calibration is under way here" }).do).toBe("refuse");
    expect(presented({ waiting: true, last: { tag: "band-0142", since_us: 0 } }).do).toBe("nothing");
  });

  it("stands for whom it is linked to, else for the trainee of its own code", () => {
    expect(owner({ linked: "heron-07" })).toEqual({ do: "begin", trainee: "heron-07" });
    expect(owner({})).toEqual({ do: "begin", trainee: "band-0142" });
    expect(owner({ tag: "04/A2", linked: "heron-07" })).toEqual({ do: "begin", trainee: "heron-07" });
  });

  it("is refused where it is not linked and no trainee can have its code, and the sentence says what would do", () => {
    // Tags may hold . and /, which trainees' codes may not.
    for (const tag of ["04/A2", "a.b"]) {
      expect(owner({ tag })).toMatchObject({ do: "refuse", why: expect.stringContaining("tag-save") });
    }
  });

  it("of whom a set is armed for already changes nothing", () => {
    expect(owner({ phase: "armed", linked: "heron-07", armed_for: "heron-07" })).toEqual({ do: "nothing" });
    expect(owner({ phase: "armed", linked: "heron-07", armed_for: "wren-21" }).do).toBe("begin");
  });
});

const trainee = (bench: Bench): string | null | undefined => bench.station.set?.path.facts.trainee;
const blinked = (bench: Bench): boolean => bench.station.lamps.playing?.pattern === "refused";

function linked(bench: Bench): Bench {
  bench.links = { "band-0142": "heron-07", "band-0143": "wren-21" };
  return bench;
}

describe("a tag at the machine", () => {
  it("arms a set for its trainee through the door of the keys", () => {
    const bench = linked(readyBench()).present("band-0142");
    expect(bench.did("dispatch")).toEqual([
      { do: "dispatch", verb: "begin", args: { station: "leg-press", trainee: "heron-07" } },
    ]);
    expect(bench.phase).toBe("armed");
    expect(trainee(bench)).toBe("heron-07");
    expect(bench.board.lamps[1]).toBe("on");
  });

  it("right after an end arms the next set: only a key may be meant for the end", () => {
    const bench = linked(readyBench())
      .begin({ ...HOLD, trainee: "wren-21" })
      .pull(0.5, 0)
      .pull(5, holdCurve(1000, 3, 1000));
    expect(bench.phase).toBe("finished");
    expect(trainee(bench.present("band-0142"))).toBe("heron-07");
  });

  it("armed, changes the trainee, and writes down whose place it takes", () => {
    const bench = linked(readyBench()).begin({ ...HOLD, trainee: "wren-21" });
    const first = bench.station.set?.path.facts.set_id;
    bench.present("band-0142");
    expect(bench.phase).toBe("armed");
    expect(trainee(bench)).toBe("heron-07");
    expect(bench.did("forget")).toEqual([{ do: "forget", set_id: first }]);
    expect(bench.answer()).toMatchObject({
      result: { warnings: expect.arrayContaining([expect.stringContaining("wren-21 was set up here")]) },
    });
    const said = bench.did("log").map(({ text }) => text);
    expect(said).toContainEqual(
      expect.stringMatching(/^A tag at .+ stands for a trainee, .* another trainee's set\.$/),
    );
    // A log outlives an erasure.
    expect(said.join()).not.toMatch(/wren-21|heron-07|band-0142/);
  });

  it("armed for its own trainee, leaves what was set up as it is", () => {
    const bench = linked(readyBench()).begin({ ...HOLD, trainee: "heron-07", side: "left" });
    const { set } = bench.station;
    bench.present("band-0142");
    expect(bench.station.set?.path.facts).toEqual(set?.path.facts);
  });

  it("working or resting, is ignored and counted, and names nobody", () => {
    const bench = linked(readyBench())
      .begin({ style: "rest-pause", trainee: "wren-21" })
      .pull(0.5, 0)
      .pull(1, repetitions(1, 2, 800));
    expect(bench.phase).toBe("working");
    bench.present("band-0142");
    while (bench.phase === "working") bench.read(bench.countsOf(0));
    expect(bench.phase).toBe("resting");
    bench.present("band-0143").present("band-0142");
    expect(bench.station.desk.tags_ignored).toBe(3);
    expect(trainee(bench)).toBe("wren-21");
    expect(bench.station.desk.last_named?.trainee).toBe("wren-21");
    expect(blinked(bench)).toBe(false);
  });

  it("held to the reader is one, by the time of the device, and counts once", () => {
    const bench = linked(readyBench({ host_speed: 0.01 })).present("band-0142");
    const first = bench.station.set?.path.facts.set_id;
    bench.ask("end");
    for (let s = 0; s < 12; s += 4) expect(bench.pull(4, 0).present("band-0142").phase).toBe("idle");
    bench.pull(5.1, 0).present("band-0142");
    expect(bench.phase).toBe("armed");
    expect(bench.station.set?.path.facts.set_id).not.toBe(first);
  });

  it("during a calibration is refused with three blinks", () => {
    const bench = linked(readyBench());
    bench.ask("calibration-begin");
    bench.present("band-0142");
    expect(bench.phase).toBe("idle");
    expect(bench.did("look-up-tag")).toEqual([]);
    expect(blinked(bench)).toBe(true);
  });

  it("that stands for nobody is refused with three blinks", () => {
    const bench = readyBench().present("04/A2");
    expect(bench.phase).toBe("idle");
    expect(blinked(bench)).toBe(true);
    expect(bench.did("log").map(({ text }) => text)).toContainEqual(expect.stringContaining("tag-save"));
  });

  it("whose begin is refused blinks, and a key pressed once it may begin is its trainee's", () => {
    const bench = linked(readyBench()).begin({ ...HOLD, trainee: "wren-21" });
    bench.ask("end");
    bench.give({ kind: "inspect", since: "2026-11-24T10:00:00.000Z", detail: "It was bent." });
    bench.present("band-0142");
    expect(bench.phase).toBe("idle");
    expect(blinked(bench)).toBe(true);
    bench.ask("inspected");
    bench.press(1);
    expect(bench.phase).toBe("armed");
    expect(bench.did("dispatch").at(-1)).toMatchObject({ verb: "begin", args: { trainee: "heron-07" } });
  });

  it("names whom key 1 begins for, for 10 minutes", () => {
    for (const [after_s, whose] of [
      [598, "heron-07"],
      [602, null],
    ] as const) {
      const bench = linked(readyBench({ rate_Hz: 20, station: { style: "hold" } })).present("band-0142");
      const named_s = bench.at_s;
      bench.ask("end");
      bench.pull(named_s + after_s - bench.at_s, 0).press(1);
      expect(bench.phase).toBe("armed");
      expect(trainee(bench)).toBe(whose);
    }
  });

  it("whose owner is known only once force is on changes nothing any more", () => {
    const bench = linked(readyBench())
      .begin({ ...HOLD, trainee: "wren-21" })
      .pull(0.5, 0)
      .pull(3, holdCurve(1000, 10, 0));
    bench.give({ kind: "tag-owner", tag: "band-0142", linked: "heron-07" });
    expect(trainee(bench)).toBe("wren-21");
    expect(bench.station.desk.tags_ignored).toBe(1);
  });
});

describe("the comparable set on show, amended meanwhile", () => {
  const shown = { ...inventedSet(1), trainee: "heron-07", side: "left" } as const;
  const armed = (): Bench => {
    const bench = readyBench();
    bench.history = { ...KNOWN, comparable: shown };
    return bench.begin({ ...HOLD, trainee: "heron-07", side: "left" });
  };
  const comparable = (bench: Bench): unknown => bench.pull(1.2, 0).last("state")?.["comparable_set"];

  it("is shown as amended", () => {
    const bench = armed();
    expect(comparable(bench)).toMatchObject({ revision: 1, pain: null });
    bench.give({ kind: "revised", set: { ...shown, revision: 2, pain: 3 } });
    expect(comparable(bench)).toMatchObject({ revision: 2, pain: 3 });
  });

  it.each([{ void: true }, { warm_up: true }, { trainee: "wren-21" }, { side: "right" }] as const)(
    "leaves where it is not comparable any more: %j",
    (changes) => {
      const bench = armed();
      bench.give({ kind: "revised", set: { ...shown, revision: 2, ...changes } });
      expect(comparable(bench)).toBeNull();
    },
  );

  it("stays where another one is amended, and is amended beside a finished set too", () => {
    const bench = armed()
      .pull(0.5, 0)
      .pull(5, holdCurve(1000, 3, 1000));
    expect(bench.phase).toBe("finished");
    bench.give({ kind: "revised", set: { ...inventedSet(2), void: true } });
    expect(comparable(bench)).toMatchObject({ set_id: shown.set_id, revision: 1 });
    bench.give({ kind: "revised", set: { ...shown, revision: 2, note: "seat 4" } });
    expect(comparable(bench)).toMatchObject({ note: "seat 4" });
  });
});

/** The log of a set as it grows: what it costs on a bad line, and that its parts make the whole. */
import { describe, expect, it } from "vitest";
import type { ArmFacts } from "../../../recorder/station/arm-facts.ts";
import { beginLog, logEvent, logReading, nextPart, type SetLog, wholeLog } from "../../../recorder/station/set-log.ts";
import { joinInputLogs } from "../../../recorder/store/input-log.ts";

/** The log does not look into what was armed. */
const ARM = { arm_version: 1 } as ArmFacts;

const rejections = (log: SetLog, lines: number): SetLog => {
  let grown = log;
  for (let line = 0; line < lines; line++) grown = logEvent(grown, { kind: "rejected", lines: 1 });
  return grown;
};

describe("a line of rejected lines", () => {
  it("makes one event of any number of them", () => {
    const log = logReading(rejections(logReading(beginLog(ARM), 0, 1, null), 200_000), 12_500, 2, null);
    expect(wholeLog(log).events).toEqual([{ before: 1, event: { kind: "rejected", lines: 200_000 } }]);
  });

  it("is not forgotten at the end, nor in front of another event", () => {
    const log = logEvent(rejections(beginLog(ARM), 3), { kind: "silence", at_us: 5 });
    expect(wholeLog(rejections(log, 2)).events).toEqual([
      { before: 0, event: { kind: "rejected", lines: 3 } },
      { before: 0, event: { kind: "silence", at_us: 5 } },
      { before: 0, event: { kind: "rejected", lines: 2 } },
    ]);
  });

  it("costs no more the longer it lasts", () => {
    const timed = (lines: number): number => {
      const began_ms = performance.now();
      rejections(beginLog(ARM), lines);
      return performance.now() - began_ms;
    };
    timed(50_000);
    // Ten times as many; a hundred times the time is what a growing copy would take.
    expect(timed(500_000)).toBeLessThan(40 * Math.max(1, timed(50_000)));
  });
});

describe("parts", () => {
  it("join to the whole, whatever came between them", () => {
    let log = beginLog(ARM);
    const parts: ReturnType<typeof nextPart>[] = [];
    for (let index = 0; index < 100; index++) {
      log = logReading(log, index * 12_500, index, index % 7 === 0 ? "concentric" : null);
      if (index % 5 === 0) log = rejections(log, 2);
      if (index % 11 === 0) log = logEvent(log, { kind: "lost", lines: 1 });
      if (index % 13 === 0) {
        const part = nextPart(log);
        parts.push(part);
        log = { ...log, saved: part.reach };
      }
    }
    const last = nextPart(rejections(log, 1));
    const whole = wholeLog(log);
    const joined = joinInputLogs([...parts, last].map((part) => part.log));
    expect(Array.from(joined.at_us)).toEqual(Array.from(whole.at_us));
    expect(Array.from(joined.counts)).toEqual(Array.from(whole.counts));
    // Rejected lines after the last reading wait for the next one, so a part may end before them.
    const settled = whole.events.filter(
      ({ before, event }) => before < 100 || (event as { kind: string }).kind !== "rejected",
    );
    expect(joined.events).toEqual(settled);
  });
});

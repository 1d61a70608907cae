/** What came of the readings of one station, of its board and of its lamps. Pure. */
import { examineSensor } from "../../../calibration/self-test/examine.ts";
import type { Finding } from "../../../calibration/self-test/finding.ts";
import type { Refusal } from "../../../protocol/vocabulary.ts";
import { factsOf, type SelfTestAnswer, sampleOf } from "./answers.ts";
import { fault, good, notice } from "./findings.ts";

export interface Wanted {
  readonly mains_Hz: 50 | 60 | undefined;
  readonly lamps: boolean;
}

export function sensorFindings(answer: SelfTestAnswer, wanted: Wanted): readonly Finding[] {
  return [
    ...whole(answer),
    ...trouble(answer),
    ...calibration(answer),
    ...examineSensor(sampleOf(answer), factsOf(answer, wanted.mains_Hz)),
    ...(wanted.lamps ? lamps(answer) : []),
  ];
}

function whole({ ended, duration_s, counts }: SelfTestAnswer): readonly Finding[] {
  if (ended === "complete") return [];
  const came = `${counts.length} ${counts.length === 1 ? "reading" : "readings"}`;
  const what =
    ended === "silent"
      ? `The readings stopped before ${duration_s} s were over, after ${came}.`
      : `The line or the board began anew before ${duration_s} s were over, after ${came}.`;
  const remedy = "Check the board's supply, its cable and the amplifier's wires, then test again.";
  return [fault("ended", what, remedy, { ended, readings: counts.length })];
}

function trouble({ trouble: why }: SelfTestAnswer): readonly Finding[] {
  if (why === null) return [];
  return [fault("trouble", why, "No set can begin here until that is put right.")];
}

/** No fault: this is looked at before a machine is calibrated for the first time. A board that began anew may not have said who it is. */
function calibration({ station, ended, counts_per_N }: SelfTestAnswer): readonly Finding[] {
  if (counts_per_N !== null || ended === "interrupted") return [];
  const what = "No calibration fits what is on the line: all is said in counts, and no set can begin here.";
  return [notice("calibration", what, `Once all else is well, calibrate it: \`tidemark calibrate ${station}\`.`)];
}

/** Whether they are lit only somebody who looks can say; that the board does as it is told, its answer says. */
function lamps({ lamps: told, dialect }: SelfTestAnswer): readonly Finding[] {
  if (told === null) {
    return dialect === "bare"
      ? [
          notice(
            "lamps",
            "A board of bare numbers has no lamps.",
            "Watch the display for the stop, or use a board of tm1.",
          ),
        ]
      : [];
  }
  return told.map(({ lamp, answered_ms }) =>
    answered_ms === null
      ? fault(
          `lamp-${lamp}`,
          `The board did not answer when lamp ${lamp} was to be lit: a stop may not be shown.`,
          "Check the wire from the box to the board, and the board's program.",
          { answered_ms },
        )
      : good(
          `lamp-${lamp}`,
          `Lamp ${lamp} was to be lit for a second, and the board said so after ${Math.round(answered_ms)} ms: you should have seen it.`,
          { answered_ms: Math.round(answered_ms) },
        ),
  );
}

/** The station was not looked at, and why. */
export function refusedFinding({ code, message, hint }: Refusal): Finding {
  const say = code === "busy" ? notice : fault;
  const remedy = hint ?? "Put that right, then test again.";
  return say("readings", `Not looked at: ${message}`, code === "busy" ? `${remedy} Then test again.` : remedy, {
    code,
  });
}

/** A self-test for people: a heading for each part, findings worst first, how bad in a word, and a last line that sums up. */
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { worstFirst } from "./findings.ts";

export interface Part {
  readonly heading: string;
  readonly findings: readonly Finding[];
}

const WIDTH = 80;
const INDENT = "          ";

export function sayReport(parts: readonly Part[]): string {
  return [...parts.map(sayPart), sayWhole(parts)].join("\n\n");
}

function sayPart({ heading, findings }: Part): string {
  if (findings.length === 0) return `${heading}\n  nothing was looked at`;
  return [wrapped("", heading), ...worstFirst(findings).map(sayFinding)].join("\n");
}

function sayFinding({ check, level, what, do: remedy }: Finding): string {
  const found = wrapped(`  ${level.padEnd(INDENT.length - 2)}`, `${check}: ${what}`);
  return remedy === null ? found : `${found}\n${wrapped(`${INDENT}do: `, remedy)}`;
}

/** Lines of at most 80 letters. A word that is longer stands alone: a path must not be torn. */
function wrapped(first: string, text: string): string {
  const indent = " ".repeat(first.length);
  const lines: string[] = [];
  let line = first;
  let words = 0;
  for (const word of text.split(/\s+/)) {
    if (words > 0 && line.length + 1 + word.length > WIDTH) {
      lines.push(line);
      line = indent;
      words = 0;
    }
    line += words === 0 ? word : ` ${word}`;
    words += 1;
  }
  return [...lines, line].join("\n");
}

export const countOf = (findings: readonly Finding[], level: Finding["level"]): number =>
  findings.filter((finding) => finding.level === level).length;

function sayWhole(parts: readonly Part[]): string {
  const all = parts.flatMap(({ findings }) => findings);
  const [faults, notices] = [countOf(all, "fault"), countOf(all, "notice")];
  if (faults > 0) {
    const beside = notices > 0 ? ` and ${several(notices, "notice")}` : "";
    return wrapped("", `${several(faults, "fault")}${beside}: put the faults right before anybody trains here.`);
  }
  if (notices > 0) return wrapped("", `No fault and ${several(notices, "notice")}: usable, and it could be better.`);
  return "No fault: all is well.";
}

const several = (number: number, one: string): string => `${number} ${number === 1 ? one : `${one}s`}`;

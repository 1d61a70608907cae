/** What `export` and `import` share: a file of the recorder's machine, patience, and amounts in words. */
import { resolve } from "node:path";
import { ask, type Question, type Reply } from "../client.ts";

/** Half a million sets take the better part of an hour on a small box. */
const PATIENCE_MS = 6 * 3_600_000;

export const askPatiently = (question: Question): Promise<Reply> => ask({ ...question, patience_ms: PATIENCE_MS });

/** The recorder has another working directory than whoever types. */
export const wholePath = (file: string | undefined): string => resolve(file ?? "");

interface Amounts {
  readonly sets: number;
  readonly plans: number;
  readonly tags: number;
  readonly calibrations: number;
  readonly checks: number;
}

/** `12 sets, 3 plans, 1 tag`; what there is none of is not said, and nothing at all is `nothing`. */
export function sayAmounts({ sets, plans, tags, calibrations, checks }: Amounts): string {
  const kinds = { set: sets, plan: plans, tag: tags, calibration: calibrations, check: checks };
  const said = Object.entries(kinds).flatMap(([kind, amount]) =>
    amount === 0 ? [] : [`${amount} ${kind}${amount === 1 ? "" : "s"}`],
  );
  return said.length === 0 ? "nothing" : said.join(", ");
}

/** `12.3 MB`; under a tenth of one in kB. */
export const sayBytes = (bytes: number): string =>
  bytes < 100_000 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;

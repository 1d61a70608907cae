/** One line of an export, looked at by itself: what it is, or what is wrong with it. */
import type { z } from "zod";
import { check, sayFault } from "../../protocol/requests/faults.ts";
import { readObject, type Unreadable } from "../control/json-object.ts";
import {
  type End,
  endSchema,
  FORMAT_VERSION,
  type Header,
  headerSchema,
  KINDS,
  type Line,
  lineSchema,
  type SetLine,
} from "../store/export-lines.ts";
import { decodeInputLog } from "../store/input-log.ts";
import { impossible } from "./importing.ts";

export type ReadLine =
  | { readonly is: "header"; readonly header: Header }
  | { readonly is: "line"; readonly line: Line }
  | { readonly is: "end"; readonly end: End }
  /** One sentence, or more, that follow the number of the line. */
  | { readonly is: "fault"; readonly what: string };

const NEWER =
  "The file was written by a newer version of tidemark, in a format this one does not know: import it with that version or a newer one";

export function readLine(bytes: Uint8Array): ReadLine {
  const read = readObject(bytes);
  if (!read.ok) return fault(UNREADABLE[read.why]);
  const { kind, format_version } = read.value;
  switch (kind) {
    case "tidemark-export":
      if (typeof format_version === "number" && format_version > FORMAT_VERSION) return fault(NEWER);
      return checked(headerSchema, read.value, (header) => ({ is: "header", header }));
    case "end":
      return checked(endSchema, read.value, (end) => ({ is: "end", end }));
    default:
      if (!KINDS.some((known) => known === kind)) return fault("its kind is not one of an export's");
      return checked(lineSchema, read.value, (line) => {
        const what = nonsense(line);
        // As it stands in the file: the schema's copy may have its keys in another order.
        return what === null ? { is: "line", line: read.value as unknown as Line } : fault(what);
      });
  }
}

const fault = (what: string): ReadLine => ({ is: "fault", what });

const UNREADABLE: Readonly<Record<Unreadable, string>> = {
  "not-json": "it is not JSON, or cut off",
  "not-an-object": "it is not a JSON object",
  "too-deep": "it nests deeper than anything in an export",
};

/** Enough to mend an honest line. */
const FAULTS_SAID = 3;

function checked<S extends z.ZodType>(schema: S, value: unknown, then: (value: z.infer<S>) => ReadLine): ReadLine {
  const found = check(schema, value);
  if (found.ok) return then(found.value);
  return fault(
    found.faults
      .slice(0, FAULTS_SAID)
      .map((each) => sayFault(each).slice(0, 200))
      .join("; "),
  );
}

/** What no schema says; part of a sentence. */
function nonsense(line: Line): string | null {
  switch (line.kind) {
    case "calibration":
      return impossible(line.record).join("; ") || null;
    case "set":
      return nonsenseInSet(line);
    default:
      return null;
  }
}

function nonsenseInSet({ set, log, earlier }: SetLine): string | null {
  let before = 0;
  for (const each of [...earlier.map((revision) => revision.set), set]) {
    if (each.set_id !== set.set_id || each.station !== set.station) return "a revision is of another set or station";
    if (each.revision <= before) return "its revisions are not in their order";
    before = each.revision;
  }
  const decoded = decodeInputLog(Buffer.from(log, "base64"));
  return decoded.ok ? null : decoded.message;
}

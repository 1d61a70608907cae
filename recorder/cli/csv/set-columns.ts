/**
 * Sets and efforts as rows of a table: the fields of the `set` message in its order, its options and its quality beside
 * each other as columns of their own. Units end the names. Instants are UTC; one more column has the start in local time.
 */
import {
  effortSchema,
  optionsSchema,
  qualitySchema,
  type SetMessage,
  setSchema,
} from "../../../protocol/messages/set.ts";
import { sayInstant } from "../../drawing/instants.ts";
import type { Cell } from "./record.ts";

export interface CsvTable {
  readonly head: readonly string[];
  /** As many cells as the head has. `time_zone` is an IANA name. */
  readonly rowsOf: (set: SetMessage, time_zone: string) => readonly (readonly Cell[])[];
}

interface Column {
  readonly name: string;
  readonly cellOf: (set: SetMessage, time_zone: string) => Cell;
}

const LOCAL: Column = { name: "started_at_local", cellOf: (set, time_zone) => sayInstant(set.started_at, time_zone) };

const SET_COLUMNS: readonly Column[] = Object.keys(setSchema.shape).flatMap((field): readonly Column[] => {
  const plain: Column = { name: field, cellOf: (set) => cell(set[field]) };
  switch (field) {
    case "options":
      return inner(field, Object.keys(optionsSchema.shape));
    case "quality":
      return inner(field, Object.keys(qualitySchema.shape));
    case "efforts":
      return [
        { name: "efforts", cellOf: ({ efforts }) => efforts.length },
        { name: "efforts_counted", cellOf: ({ efforts }) => efforts.filter(({ counted }) => counted).length },
      ];
    case "started_at":
      return [plain, LOCAL];
    default:
      return [plain];
  }
});

function inner(block: "options" | "quality", fields: readonly string[]): readonly Column[] {
  return fields.map((field) => ({ name: `${block}.${field}`, cellOf: (set) => cell(set[block][field]) }));
}

/** One row a set. */
export const SETS_TABLE: CsvTable = {
  head: SET_COLUMNS.map(({ name }) => name),
  rowsOf: (set, time_zone) => [SET_COLUMNS.map(({ cellOf }) => cellOf(set, time_zone))],
};

/** Whose set an effort is of, without looking into the other table. */
const WHOSE = ["set_id", "station", "exercise", "trainee", "side", "style", "started_at"] as const;
const EFFORT_FIELDS = Object.keys(effortSchema.shape);

/** One row an effort. */
export const EFFORTS_TABLE: CsvTable = {
  head: [...WHOSE, LOCAL.name, ...EFFORT_FIELDS],
  rowsOf: (set, time_zone) => {
    const whose = [...WHOSE.map((field) => cell(set[field])), LOCAL.cellOf(set, time_zone)];
    return set.efforts.map((effort) => [...whose, ...EFFORT_FIELDS.map((field) => cell(effort[field]))]);
  },
};

/** A recorder of another version may lack a field, or hold more in one than a cell can. */
function cell(value: unknown): Cell {
  if (value === null || value === undefined) return null;
  if (typeof value === "string" || typeof value === "number" || typeof value === "boolean") return value;
  return JSON.stringify(value);
}

/** Sets written as tables while they are asked for, a page at a time: a record of any length fits. */
import { type FileHandle, open, unlink } from "node:fs/promises";
import { type SetMessage, setSchema } from "../../../protocol/messages/set.ts";
import type { Chosen } from "../chosen-sets.ts";
import { DID_NOT_HOLD, type ExitCode, type Failure, type Terminal } from "../command.ts";
import { notWritten } from "../records/files.ts";
import { OTHER_VERSION, walkSets } from "../set-pages.ts";
import type { Settings } from "../settings.ts";
import { BYTE_ORDER_MARK, type CsvForm, csvRecord, DECIMAL_COMMA } from "./record.ts";
import type { CsvTable } from "./set-columns.ts";

export interface TableFile {
  readonly table: CsvTable;
  /** `-` is the standard output. */
  readonly file: string;
  /** What its rows are, for a sentence. */
  readonly rows: "set" | "effort";
}

interface Output {
  readonly write: (text: string) => Promise<unknown>;
  readonly handle: FileHandle | null;
}

/** A file that is there already is left alone; one that could not be finished is taken away again. */
export async function writeTables(
  files: readonly TableFile[],
  form: CsvForm,
  chosen: Chosen,
  { socket, house }: Settings,
  terminal: Terminal,
): Promise<ExitCode | Failure> {
  const outputs: Output[] = [];
  const counts = files.map(() => 0);
  const writeRows = async (sets: readonly SetMessage[]): Promise<void> => {
    for (const [index, { table }] of files.entries()) {
      const rows = sets.flatMap((set) => table.rowsOf(set, house.time_zone));
      counts[index] = (counts[index] ?? 0) + rows.length;
      if (rows.length > 0) await outputs[index]?.write(rows.map((row) => csvRecord(row, form)).join(""));
    }
  };
  const writeAll = async (): Promise<Failure | null> => {
    for (const { file, table } of files) {
      const opened = await openOutput(file, terminal);
      if ("exit" in opened) return opened;
      outputs.push(opened);
      await opened.write(`${form === DECIMAL_COMMA ? BYTE_ORDER_MARK : ""}${csvRecord(table.head, form)}`);
    }
    return walkSets({ path: socket, verb: "sets", args: chosen.args }, chosen.limit, async (sets) => {
      const read = setSchema.array().safeParse(sets);
      if (!read.success) return OTHER_VERSION;
      await writeRows(read.data);
      return null;
    });
  };
  const failure = await writeAll().catch(unwritten);
  for (const { handle } of outputs) await handle?.close();
  if (failure !== null) {
    for (const [index, { handle }] of outputs.entries()) if (handle !== null) await unlink(files[index]!.file);
    return failure;
  }
  // What belongs to a table must stay alone where the table is the standard output.
  const say = files.some(({ file }) => file === "-") ? terminal.error : terminal.out;
  for (const [index, { file, rows }] of files.entries()) {
    const count = counts[index] ?? 0;
    if (file !== "-") say(`${count} ${rows}${count === 1 ? "" : "s"} in ${file}`);
  }
  return 0;
}

async function openOutput(file: string, terminal: Terminal): Promise<Output | Failure> {
  if (file === "-") return { write: async (text) => terminal.write(text), handle: null };
  try {
    const handle = await open(file, "wx");
    return { write: (text) => handle.appendFile(text), handle };
  } catch (error) {
    return notWritten(file, error as NodeJS.ErrnoException);
  }
}

/** A full disk, say. A broken program goes on as what it is. */
function unwritten(error: NodeJS.ErrnoException): Failure {
  if (error.code === undefined || error.syscall === undefined) throw error;
  return {
    exit: DID_NOT_HOLD,
    message: `the table could not be written to its end, so it was taken away: ${error.message}`,
  };
}

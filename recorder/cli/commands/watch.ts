/** Live values in the terminal: one line a station, redrawn where somebody looks, and plain lines where a file does. */
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { StationTopic } from "../../../protocol/messages/topics.ts";
import { JSON_FLAG } from "../ask-command.ts";
import { ask } from "../client.ts";
import type { Call, Command, ExitCode, Failure, Terminal } from "../command.ts";
import { argsOf } from "../fields.ts";
import { type Heard, sayKept, sayStation } from "../live-text.ts";
import type { House } from "../quantities.ts";
import { readSettings, SETTINGS_FLAGS } from "../settings.ts";

export const command: Command = {
  operands: [],
  flags: { station: { value: "STATION", help: "only this station" }, ...JSON_FLAG, ...SETTINGS_FLAGS },
  example: "tidemark watch --station leg-press",
  run: watch,
};

interface Event {
  readonly station: string;
  readonly topic: StationTopic;
  readonly message: object;
}

async function watch({ flags, terminal }: Call): Promise<ExitCode | Failure> {
  const settings = readSettings(flags);
  if ("exit" in settings) return settings;
  const read = argsOf("watch", { station: { field: "station", kind: "text", help: "" } }, flags, {});
  if ("exit" in read) return read;
  const show = flags["json"] === true ? asJson(terminal) : picture(terminal, settings.house).show;
  const reply = await ask({
    path: settings.socket,
    verb: "watch",
    args: read.args,
    signal: terminal.interrupted(),
    onEvent: (event) => show(event as Event),
  });
  return reply.ok ? 0 : reply.failure;
}

const asJson =
  ({ out }: Terminal) =>
  (event: Event): void =>
    out(JSON.stringify(event));

export interface Picture {
  readonly show: (event: Event) => void;
  /** A line that stays, above what is drawn. */
  readonly say: (line: string) => void;
}

/** Draws what the stations say, for as long as somebody looks. */
export function picture(terminal: Terminal, house: House): Picture {
  const heard = new Map<string, Heard>();
  const drawing = terminal.columns() === null ? plainLines(terminal) : redrawnLines(terminal);
  const show = ({ station, topic, message }: Event): void => {
    // One that is erased is not kept.
    if (topic === "set" && !("erased" in message))
      drawing.note(sayKept({ ...(message as Partial<SetMessage>), station }, house));
    if (topic !== "live" && topic !== "state" && topic !== "sensor") return;
    const now: Heard = { ...heard.get(station), [topic]: message };
    heard.set(station, now);
    drawing.line(station, sayStation(station, now, house), now);
  };
  return { show, say: drawing.note };
}

interface Drawing {
  readonly line: (station: string, text: string, heard: Heard) => void;
  /** Said once, and stays. */
  readonly note: (text: string) => void;
}

/** A file gets a line a station for every second, by the messages' own time, and at each change of phase. */
function plainLines({ out }: Terminal): Drawing {
  const written = new Map<string, string>();
  return {
    line: (station, text, { live }) => {
      const moment = `${live?.phase} ${live?.at?.slice(0, 19)}`;
      if (live === undefined || written.get(station) === moment) return;
      written.set(station, moment);
      out(text);
    },
    note: out,
  };
}

function redrawnLines({ write, columns }: Terminal): Drawing {
  const lines = new Map<string, string>();
  let drawn = 0;
  const draw = (note: string | null): void => {
    const up = drawn === 0 ? "" : `\x1b[${drawn}A`;
    // A line that wrapped would take two rows, and moving up would miss by one.
    const fitting = [...lines.values()].map((text) => text.slice(0, Math.max(1, (columns() ?? 80) - 1)));
    const rows = note === null ? fitting : [note, ...fitting];
    write(`${up}${rows.map((row) => `\x1b[2K${row}\n`).join("")}`);
    drawn = fitting.length;
  };
  return {
    line: (station, text) => {
      lines.set(station, text);
      draw(null);
    },
    note: draw,
  };
}

/**
 * A station that arms itself with its 200th reading, for a hold that is pulled from the 230th on and sinks to its floor: by
 * device time alone, so that what happens around it can be told by whether the set comes out as the same lines give it.
 */
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { StationConfiguration } from "../../../recorder/configuration/schema.ts";
import { StationLoop } from "../../../recorder/run/station-loop.ts";
import type { Body, StationInput } from "../../../recorder/station/exchange.ts";
import { setMessageOf } from "../../../recorder/station/set-message.ts";
import { type BoardHomes, newStation } from "../../../recorder/station/state.ts";
import { BEGINS_MS, COUNTS_PER_N, holdCurve, KEPT, KNOWN, record, ZERO_COUNTS } from "../station/bench.ts";
import { FakeBoard } from "../station/fake-board.ts";

export const RATE_HZ = 80;
export const PERIOD_US = 1e6 / RATE_HZ;
const BEGUN_AT = 200;
export const PULLED_AT = 230;

const curve = holdCurve(1000, 3, 250);
export const countsAt = (reading: number): number =>
  Math.round(ZERO_COUNTS + curve(Math.max(0, reading - PULLED_AT) / RATE_HZ) * COUNTS_PER_N) + (reading % 5);

export interface TimedStation {
  readonly configuration: StationConfiguration;
  readonly board: string;
  readonly homes?: BoardHomes;
  /** False: nobody trains at it. */
  readonly arms: boolean;
  readonly write: (text: string) => void;
  readonly live?: (body: Body) => void;
}

export interface Timed {
  readonly kept: SetMessage[];
  take(input: StationInput): void;
}

export function timedStation({ configuration, board, homes, arms, write, live }: TimedStation): Timed {
  const { id } = configuration;
  const kept: SetMessage[] = [];
  let readings = 0;
  const loop = new StationLoop(newStation(configuration, false, homes), {
    // The wall clock stands still, so that even the instants of both runs are the same.
    now: () => ({ ms: performance.now(), wall_ms: BEGINS_MS, clock_synced: true }),
    signal(effect) {
      if (effect.do === "write") write(effect.text);
      if (effect.do === "publish" && effect.topic === "live") live?.(effect.body);
    },
    keep(effect) {
      if (effect.do === "keep") kept.push(setMessageOf(effect.path, effect.result, KEPT));
    },
  });
  const take = (input: StationInput): void => {
    loop.take(input);
    if (!arms || input.kind !== "line" || !input.text.startsWith("R,")) return;
    readings += 1;
    if (readings !== BEGUN_AT) return;
    const request = { verb: "begin", args: { station: id, trainee: "otter-14" } } as const;
    const ask = { request_id: "r", request, by: null, door: "socket" } as const;
    loop.take({ kind: "begin", ask, history: KNOWN, set_id: "01930000-0000-7000-8000-000000000001" });
  };
  take({ kind: "calibration", record: record({ station: id, board }), zero: null });
  return { kept, take };
}

/** The set that the lines give one after the other, with nobody's clock and nobody else. */
export function setOf(timed: (write: (text: string) => void) => Timed, name: string): SetMessage {
  const board = new FakeBoard({ board: name });
  const station = timed((text) => board.hear(text));
  let reading = 0;
  board.out.push("");
  station.take({ kind: "opened" });
  while (station.kept.length === 0) {
    for (let text = board.out.shift(); text !== undefined; text = board.out.shift()) {
      station.take({ kind: "line", text, arrived_at_us: reading * PERIOD_US });
    }
    board.pass(PERIOD_US);
    reading += 1;
    board.read(countsAt(reading));
  }
  return station.kept[0] as SetMessage;
}

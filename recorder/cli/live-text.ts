/** What is happening at a station, as one line: kept from the messages a watcher hears. Pure. */
import type { SetMessage } from "../../protocol/messages/set.ts";
import type { LiveMessage, SensorMessage, StateMessage } from "../../protocol/messages/station.ts";
import { type House, sayForce, sayPercent, saySeconds } from "./quantities.ts";

/** The newest of each message heard of a station; they come from another version perhaps, so nothing is sure to be there. */
export interface Heard {
  readonly live?: Partial<LiveMessage>;
  readonly state?: Partial<StateMessage>;
  readonly sensor?: Partial<SensorMessage>;
}

export function sayStation(station: string, { live, state, sensor }: Heard, house: House): string {
  const force = (value: number | null | undefined): string =>
    sayForce(value ?? null, house, house.unit === "N" ? 0 : 1);
  const phase = live?.phase ?? state?.phase ?? "not heard yet";
  const why = phase === "finished" && state?.stop_reason ? [`ended by ${state.stop_reason}`] : [];
  const wide = house.unit === "N" ? 6 : 9;
  // What the trainer waits for stands within 80 columns.
  const columns = [
    `${station.padEnd(14)} ${phase.padEnd(8)}`,
    `force ${force(live?.force_N).padStart(wide)}`,
    `best ${force(live?.best_force_N).padStart(wide)}`,
    `floor ${force(live?.floor_force_N).padStart(wide)}`,
    `reserve ${sayPercent(live?.force_reserve ?? null).padStart(5)}`,
    saySeconds(live?.elapsed_s ?? null).padStart(7),
    `efforts ${String(live?.effort_number ?? 0).padStart(2)}`,
    ...(state?.trainee ? [state.trainee] : []),
    ...why,
    ...(sensor?.alarms ?? []).map(({ code, detail }) => (detail === "" ? code : `${code}: ${detail}`)),
    ...(sensor?.ready === false && (sensor.alarms ?? []).length === 0 ? (sensor.reasons ?? []) : []),
  ];
  return columns.join("  ");
}

/** A set that was kept, as one line. */
export function sayKept(set: Partial<SetMessage> & { readonly station: string }, house: House): string {
  const loss = `${sayPercent(set.force_loss ?? null)} lost of ${sayForce(set.best_force_N ?? null, house)}`;
  return `${set.station}: set ${set.set_id} kept: ${set.stop_reason}, ${loss} in ${saySeconds(set.duration_s ?? null)}`;
}

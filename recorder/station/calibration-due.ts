/** Raises the alarm when the record in force is past its due. Only a wall clock that is to be believed can say so. */
import { clear, raise } from "./alarms.ts";
import { instant, type Now } from "./exchange.ts";
import { type Station, withDesk } from "./state.ts";

export function watchDue(station: Station, now: Now): Station {
  const due = station.sensor.scale?.record.due ?? null;
  if (due === null || !now.clock_synced || now.wall_ms < Date.parse(due)) return station;
  const detail = `The calibration was due by ${due.slice(0, 10)}: check it with known loads, or calibrate again.`;
  const { alarms } = station.desk;
  const told = raise(alarms, "calibration-due", detail, instant(now));
  return told === alarms ? station : withDesk(station, { alarms: told });
}

/** Another record is in force, with a due of its own. */
export const forgetDue = (station: Station): Station =>
  withDesk(station, { alarms: clear(station.desk.alarms, "calibration-due") });

/** Raises the alarm when the record in force is past its due. Only a wall clock that is to be believed can say so. */
import { clear, raise } from "./alarms.ts";
import { instant, type Now } from "./exchange.ts";
import { type Station, withDesk } from "./state.ts";

const DAY_MS = 86_400_000;

export function watchDue(station: Station, now: Now): Station {
  const due = station.sensor.scale?.due ?? null;
  if (due === null || !now.clock_synced || now.wall_ms < Date.parse(due)) return station;
  const days = Math.floor((now.wall_ms - Date.parse(due)) / DAY_MS);
  const ago = days < 1 ? "" : days === 1 ? ", a day ago" : `, ${days} days ago`;
  const detail = `The calibration was due by ${due.slice(0, 10)}${ago}: check it with known loads, or calibrate again.`;
  const { alarms } = station.desk;
  const told = raise(alarms, "calibration-due", detail, instant(now));
  return told === alarms ? station : withDesk(station, { alarms: told });
}

/** Another record is in force, or this one was checked: the due is another. */
export const forgetDue = (station: Station): Station =>
  withDesk(station, { alarms: clear(station.desk.alarms, "calibration-due") });

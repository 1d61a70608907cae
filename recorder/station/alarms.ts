/** The standing alarms of a station. Raised once, kept with the moment they were raised, cleared when their cause is gone. */
import type { Alarm } from "../../protocol/messages/station.ts";
import type { AlarmCode } from "../../protocol/vocabulary.ts";

export type Alarms = readonly Alarm[];

/** `since` is ISO 8601 UTC. An alarm that stands keeps its moment, and its latch; its detail follows. */
export function raise(alarms: Alarms, code: AlarmCode, detail: string, since: string, latched = false): Alarms {
  const standing = alarms.find((alarm) => alarm.code === code);
  if (standing === undefined) return [...alarms, { code, since, detail, latched }];
  if (standing.detail === detail && (standing.latched || !latched)) return alarms;
  return alarms.map((alarm) => (alarm === standing ? { ...alarm, detail, latched: alarm.latched || latched } : alarm));
}

/** A latched alarm is only cleared by name: `also_latched`. */
export function clear(alarms: Alarms, code: AlarmCode, also_latched = false): Alarms {
  const kept = alarms.filter((alarm) => alarm.code !== code || (alarm.latched && !also_latched));
  return kept.length === alarms.length ? alarms : kept;
}

export const stands = (alarms: Alarms, code: AlarmCode): boolean => alarms.some((alarm) => alarm.code === code);

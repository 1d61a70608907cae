/** The door at the broker, on this recorder's connection, for its stations. */
import type { Configuration } from "../configuration/schema.ts";
import type { Dispatch } from "../control/dispatcher.ts";
import { type MqttDoor, openMqttDoor, type Posted } from "../control/mqtt-door.ts";
import type { Bus } from "../mqtt/bus-port.ts";
import type { Answer } from "../mqtt/connection.ts";
import { envelopeOf, type RecorderFacts } from "../mqtt/envelope.ts";
import { REASON } from "../mqtt/trouble.ts";
import type { Now } from "../station/exchange.ts";
import { momentOf } from "./clock.ts";
import type { ServiceLog } from "./log.ts";

export interface DoorAtBroker {
  readonly configuration: Configuration;
  readonly root: string;
  readonly facts: RecorderFacts;
  readonly bus: Pick<Bus, "listen" | "publishAnswer">;
  readonly dispatch: Dispatch;
  readonly now: () => Now;
  readonly log: ServiceLog;
}

export function openDoorAtBroker({ configuration, root, facts, bus, dispatch, now, log }: DoorAtBroker): MqttDoor {
  const { site, recorder, control, station } = configuration;
  return openMqttDoor({
    root,
    site,
    recorder,
    stations: station.map(({ id }) => id),
    groups: control.mqtt,
    dispatch,
    bus: {
      listen: (filters, hear) => bus.listen(filters, hear),
      answer: async (topic, payload, tree) => posted(await bus.publishAnswer(topic, payload, tree)),
    },
    envelope: () => envelopeOf(facts, momentOf(now())),
    now_ms: () => now().ms,
    log,
  });
}

function posted(answer: Answer): Posted {
  if (answer.ok) return "taken";
  return answer.code === REASON.packet_too_large ? "too-large" : "lost";
}

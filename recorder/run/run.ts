/** `tidemark run`: the recorder, or the simulated gym, from start to exit code. */
import type { RunService } from "../control/ports.ts";
import { serviceLog } from "./log.ts";
import { startService } from "./service.ts";
import { aborted, simulate } from "./simulate.ts";

export const runService: RunService = async ({ configuration, once, debug, show, say, stopped }) => {
  // What is kept is about people, if only by their codes: not for everybody on this machine.
  process.umask(0o027);
  if (configuration === null) {
    return simulate({ once, show, say, stopped, log: serviceLog(debug ? "debug" : "warn", 2) });
  }
  const log = serviceLog(debug ? "debug" : "info", 1);
  const started = await startService({ configuration, simulated: false, log });
  if (!started.ok) {
    say(started.message);
    return 1;
  }
  const { service } = started;
  const stations = configuration.station.map(({ id }) => id).join(", ");
  log.info({ broker: service.broker, stations }, "The recorder runs.");
  const broken = await Promise.race([aborted(stopped).then(() => null), service.broken]);
  if (broken !== null) log.fatal({}, broken);
  await service.stop();
  log.info({}, "The recorder has stopped.");
  return broken === null ? 0 : 1;
};

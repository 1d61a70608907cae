/** `tidemark run`: the recorder, or the simulated gym, from start to exit code. */
import type { Configuration } from "../configuration/schema.ts";
import type { RunService } from "../control/ports.ts";
import { shrinkBufferPool } from "../mqtt/buffer-pool.ts";
import { aborted } from "./aborted.ts";
import { whenBroken } from "./breaking.ts";
import { type ServiceLog, serviceLog } from "./log.ts";
import { startService } from "./service.ts";

export const runService: RunService = async ({ configuration, once, debug, show, say, ...options }) => {
  // What is kept is about people, if only by their codes: not for everybody on this machine.
  process.umask(0o027);
  shrinkBufferPool();
  const log =
    configuration === null ? serviceLog(debug ? "debug" : "warn", 2) : serviceLog(debug ? "debug" : "info", 1);
  const broken = whenBroken(log);
  const stopped = AbortSignal.any([options.stopped, broken]);
  try {
    const code =
      configuration === null
        ? await simulated({ once, show, say, stopped, log })
        : await record(configuration, { log, say, stopped });
    return broken.aborted ? 1 : code;
  } finally {
    log.end();
  }
};

/** Loaded only here: a recorder has its first live value on the air the sooner. */
async function simulated(gym: Parameters<typeof import("./simulate.ts").simulate>[0]): Promise<number> {
  const { simulate } = await import("./simulate.ts");
  return simulate(gym);
}

interface Recording {
  readonly log: ServiceLog;
  readonly say: (line: string) => void;
  readonly stopped: AbortSignal;
}

async function record(configuration: Configuration, { log, say, stopped }: Recording): Promise<number> {
  if (process.getuid?.() === 0) {
    log.warn(
      {},
      "The recorder runs as root, and needs no such power: give it a user of its own, in the group dialout.",
    );
  }
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
}

/**
 * The recorder in a process of its own, with a set running, until it is killed. Says the set's id to its parent. Its gym
 * goes eight times as fast as the clock: a checkpoint comes every five seconds of ours, and finds a set well begun.
 */
import { setTimeout } from "node:timers/promises";
import { realTime } from "../../../recorder/simulated-gym/pace.ts";
import { configurationIn, midSet, startGym } from "./gym-service.ts";

const SPEED = 8;
const pace = realTime({
  now_ms: () => performance.now() * SPEED,
  sleep: (for_ms, signal) => setTimeout(for_ms / SPEED, undefined, { signal }),
});

const [directory] = process.argv.slice(2);
const running = await startGym(configurationIn(directory!), true, pace);
process.send!(await midSet(running));

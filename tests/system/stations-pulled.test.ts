/**
 * Eight boards on real ttys, their cables pulled at random, a hundred times and more: the links must find each of them again.
 *
 * serialport 13 on Linux can miss a hang-up for ever, and then reads on in a circle (its read of a tty that hung up gives 0
 * bytes, and calls itself again; up to half of the pulls, measured here). Only the watch on silence gets out of that.
 */
import { mkdtempSync, readdirSync, readlinkSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { afterAll, beforeAll, expect, test } from "vitest";
import { type Link, openLink } from "../../recorder/serial/link.ts";
import { SimulatedGym } from "../../recorder/simulated-gym/gym.ts";
import { gymConfiguration, stationsOf } from "../../recorder/simulated-gym/scenario.ts";
import { PtyBoard } from "./pty-board.ts";

const SEED = 8;
const PORTS = 8;
const PULLS = 104;
/** A missed hang-up is found after 1.25 s at most; then 0.5 s, and tries that come too early cost 1, 2 and 4 s more. */
const BACK_WITHIN_MS = 8000;

const folder = mkdtempSync(join(tmpdir(), "tidemark-pulled-"));
const ids = Array.from({ length: PORTS }, (_, index) => `station-${index}`);
const base = gymConfiguration({ store: "unused", socket: "unused", service_socket: "unused too", port: 0 });
const station = ids.flatMap((id) => base.station.slice(0, 1).map((model) => ({ ...model, id })));
const gym = new SimulatedGym(stationsOf({ ...base, station }, SEED), SEED);

class Wired {
  readonly board: PtyBoard;
  readonly link: Link;
  readonly troubles: string[] = [];
  lines = 0;
  opens = 0;
  #onLine: (() => void) | null = null;

  constructor(id: string) {
    this.board = new PtyBoard(join(folder, id), gym.station(id), 1);
    this.link = openLink({
      path: this.board.path,
      handlers: {
        onOpened: () => {
          this.opens += 1;
        },
        onLine: () => {
          this.lines += 1;
          this.#onLine?.();
        },
        onClosed: () => {},
        onTrouble: (sentence) => {
          if (sentence !== null) this.troubles.push(sentence);
        },
        onSilence: () => {},
      },
    });
    this.link.expectPeriod(1 / 80);
  }

  nextLine(): Promise<void> {
    return new Promise((resolve) => {
      this.#onLine = () => {
        this.#onLine = null;
        resolve();
      };
    });
  }
}

const wired: Wired[] = [];

beforeAll(async () => {
  for (const id of ids) wired.push(new Wired(id));
  await Promise.all(wired.map(({ board }) => board.plug()));
  await Promise.all(wired.map((each) => each.nextLine()));
});

afterAll(async () => {
  await Promise.all(wired.map(({ link }) => link.close()));
  await Promise.all(wired.map(({ board }) => board.unplug()));
  rmSync(folder, { recursive: true, force: true });
});

/** Descriptors of this process that lead to a tty: those of the links, and those with which the boards hold the ttys open. */
function ttys(): number {
  const leads = readdirSync("/proc/self/fd").map((fd) => {
    try {
      return readlinkSync(`/proc/self/fd/${fd}`);
    } catch {
      return "";
    }
  });
  return leads.filter((path) => path.startsWith("/dev/pts/")).length;
}

async function cpuShareOver(for_ms: number): Promise<number> {
  const used = process.cpuUsage();
  const from_ms = performance.now();
  await pause(for_ms);
  const { user, system } = process.cpuUsage(used);
  return (user + system) / 1000 / (performance.now() - from_ms);
}

test("every board comes back in bounded time, with nothing left open and nothing left turning", async () => {
  const ttys_before = ttys();
  const share_before = await cpuShareOver(2000);
  const back_ms: number[] = [];
  const each = PULLS / PORTS;
  const used = process.cpuUsage();
  const from_ms = performance.now();
  await Promise.all(
    wired.map(async (pulled) => {
      for (let pull = 0; pull < each; pull++) {
        await pause(700 * Math.random());
        await pulled.board.unplug();
        await pause(300 * Math.random());
        await pulled.board.plug();
        const plugged_ms = performance.now();
        await pulled.nextLine();
        back_ms.push(performance.now() - plugged_ms);
      }
    }),
  );
  const { user, system } = process.cpuUsage(used);
  const share_pulling = (user + system) / 1000 / (performance.now() - from_ms);
  // A port that was given up closes behind the back of the one that took its place.
  await pause(1500);
  const share_after = await cpuShareOver(2000);
  const missed = wired.flatMap(({ troubles }) => troubles).filter((text) => /fell silent/.test(text)).length;
  back_ms.sort((a, b) => a - b);
  console.info(
    `${back_ms.length} pulls, ${missed} of them missed by the port; back after ${back_ms[back_ms.length >> 1]?.toFixed(0)} ms, ` +
      `at most ${back_ms.at(-1)?.toFixed(0)} ms; ttys open ${ttys_before} before, ${ttys()} after; ` +
      `of a core ${[share_before, share_pulling, share_after].map((share) => `${(100 * share).toFixed(0)} %`).join(", ")}`,
  );
  expect(back_ms).toHaveLength(each * PORTS);
  expect(back_ms.at(-1)).toBeLessThan(BACK_WITHIN_MS);
  expect(ttys()).toBe(ttys_before);
  expect(share_after).toBeLessThan(share_before + 0.3);
}, 120_000);

/** What a self-test says of the box, from the files of a made-up one, sentence by sentence. */
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type { Finding } from "../../../calibration/self-test/finding.ts";
import { type Status, statusSchema } from "../../../recorder/cli/self-test/answers.ts";
import { type HostFacts, hostFacts, isReadOnly } from "../../../recorder/cli/self-test/host-facts.ts";
import { hostFindings, notRunning } from "../../../recorder/cli/self-test/host-findings.ts";
import { FakeMachine } from "../serial/fake-machine.ts";

const WELL: HostFacts = {
  node_version: "20.19.0",
  memory: { total_bytes: 4e9, available_bytes: 3e9 },
  load: { five_minutes: 0.3, processors: 4 },
  undervoltage: false,
  hottest_C: 48.2,
  store: { directory: "/var/lib/tidemark", free_bytes: 20e9, volatile: null, read_only: false },
};

const health = {
  uptime_s: 90_000,
  clock_synced: true,
  event_loop: { max_s: 0.012 },
  storage: { trouble: null as string | null, unsaved_sets: 0, slowest_write_s: 0.02 },
  outbox: { waiting: 0, not_empty_s: 0 },
};
const statusWith = (changes: Partial<typeof health> = {}): Status =>
  statusSchema.parse({
    recorder: "hall-box",
    site: "north-hall",
    version: "1.2.3",
    boot: "0d9a2b6f",
    simulated: false,
    health: { ...health, ...changes },
    stations: [],
  });

const found = (check: string, facts: Partial<HostFacts>, status: Status | null = statusWith()): Finding[] =>
  hostFindings({ ...WELL, ...facts }, status).filter((finding) => finding.check === check);

describe("a box as it should be", () => {
  it("is good in all that is looked at", () => {
    expect(hostFindings(WELL, statusWith()).map(({ check, level, what }) => [check, level, what])).toEqual([
      ["recorder", "good", "Recorder 1.2.3 has been running for 25 h."],
      ["clock", "good", "The clock was set by a time service."],
      ["delay", "good", "The recorder was at most 12 ms late in the last two minutes."],
      ["storage", "good", "The slowest write to the store took 20 ms."],
      ["free", "good", "20.0 GB are free for the store in /var/lib/tidemark."],
      ["node", "good", "Node 20.19.0 is new enough."],
      ["memory", "good", "3.0 GB of 4.0 GB memory are left."],
      ["load", "good", "0.3 programs wanted one of 4 processors, in the mean of five minutes."],
      ["supply", "good", "The supply of the box has held."],
      ["temperature", "good", "The hottest place of the box has 48 degrees Celsius."],
    ]);
  });

  it("says nothing of what it cannot know", () => {
    const blank = { memory: null, load: null, undervoltage: null, hottest_C: null, store: null };
    expect(hostFindings({ ...WELL, ...blank }, null).map(({ check }) => check)).toEqual(["node"]);
  });
});

const store = (changes: Partial<NonNullable<HostFacts["store"]>>): Partial<HostFacts> => ({
  store: { ...WELL.store!, ...changes },
});
const VOLATILE =
  "The store's directory /run/x is in memory (tmpfs): every set is lost when the power goes; put the store on a disk.";

describe("each thing that is not well has its level and its sentence", () => {
  it.each([
    ["disk", "fault", /may only be read: no set can be kept/, store({ read_only: true }), {}],
    [
      "disk",
      "fault",
      /in memory \(tmpfs\): every set is lost when the power goes\.$/,
      store({ volatile: VOLATILE }),
      {},
    ],
    ["free", "fault", /^Only 150 MB are free/, store({ free_bytes: 150e6 }), {}],
    ["free", "notice", /^1\.5 GB are free/, store({ free_bytes: 1.5e9 }), {}],
    ["node", "fault", /^Node 18\.20\.4 is older/, { node_version: "18.20.4" }, {}],
    ["memory", "notice", /^Only 40 MB of 4\.0 GB/, { memory: { total_bytes: 4e9, available_bytes: 40e6 } }, {}],
    [
      "load",
      "notice",
      /^5\.2 programs wanted one of 4 .* more than there are\.$/,
      { load: { five_minutes: 5.2, processors: 4 } },
      {},
    ],
    ["supply", "fault", /^The supply of the box was too low/, { undervoltage: true }, {}],
    ["temperature", "notice", /has 84 degrees Celsius: it slows down\.$/, { hottest_C: 84 }, {}],
    ["clock", "notice", /^No time service has set the clock/, {}, { clock_synced: false }],
    ["delay", "notice", /at most 200 ms late .* seen in live values\.$/, {}, { event_loop: { max_s: 0.2 } }],
    [
      "delay",
      "fault",
      /at most 900 ms late .* a stop may come that much too late\.$/,
      {},
      { event_loop: { max_s: 0.9 } },
    ],
    [
      "storage",
      "notice",
      /took 700 ms: sets are kept late/,
      {},
      { storage: { ...health.storage, slowest_write_s: 0.7 } },
    ],
    [
      "storage",
      "fault",
      /took 3000 ms: its disk is failing/,
      {},
      { storage: { ...health.storage, slowest_write_s: 3 } },
    ],
    ["storage", "fault", /^The disk is full\.$/, {}, { storage: { ...health.storage, trouble: "The disk is full." } }],
    [
      "storage",
      "fault",
      /^2 finished sets could not be kept yet/,
      {},
      { storage: { ...health.storage, unsaved_sets: 2 } },
    ],
    [
      "outbox",
      "notice",
      /^7 messages about sets wait for the broker, for 2 h at most/,
      {},
      { outbox: { waiting: 7, not_empty_s: 7300 } },
    ],
  ] as const)("%s: %s, %s", (check, level, what, facts, changes) => {
    const [finding, ...more] = found(check, facts, statusWith(changes));
    expect(more.filter((other) => other.level !== "good")).toEqual([]);
    expect(finding).toMatchObject({ level, what: expect.stringMatching(what) });
    expect(finding?.do).toMatch(/^[A-Z].*\.$/);
    // At its border on the good side it is good, or says nothing.
    expect(found(check, {}).filter((good) => good.level !== "good")).toEqual([]);
  });

  it("a recorder that cannot be asked is one, with what would do", () => {
    expect(
      notRunning("tidemark is not running here (no socket at /run/x): start it with `tidemark run`"),
    ).toMatchObject({
      level: "fault",
      what: "The recorder could not be asked: tidemark is not running here (no socket at /run/x).",
      do: "Start it with `tidemark run`.",
    });
  });
});

describe("the files of a box", () => {
  let machine: FakeMachine;
  beforeEach(() => {
    machine = new FakeMachine();
  });
  afterEach(() => machine.remove());

  it("are read as the kernel documents them", async () => {
    machine.file(
      "proc/meminfo",
      "MemTotal:        3882528 kB\nMemFree:          200000 kB\nMemAvailable:    3012344 kB\n",
    );
    machine.file("proc/loadavg", "0.20 0.18 0.12 1/80 11206\n");
    machine.file("sys/class/hwmon/hwmon0/name", "cpu_thermal\n");
    machine.file("sys/class/hwmon/hwmon1/name", "rpi_volt\n");
    machine.file("sys/class/hwmon/hwmon1/in0_lcrit_alarm", "1\n");
    machine.file("sys/class/thermal/thermal_zone0/temp", "47234\n");
    machine.file("sys/class/thermal/thermal_zone1/temp", "51000\n");
    machine.file("sys/class/thermal/cooling_device0/temp", "99000\n");
    const facts = await hostFacts(join(machine.root, "tidemark.db"), machine.root);
    expect(facts).toMatchObject({
      memory: { total_bytes: 3_882_528 * 1024, available_bytes: 3_012_344 * 1024 },
      load: { five_minutes: 0.18, processors: expect.any(Number) },
      undervoltage: true,
      hottest_C: 51,
      store: { read_only: false, free_bytes: expect.any(Number) },
    });
    expect(hostFindings(facts, null).map(({ level }) => level)).toContain("fault");
  });

  it("that are missing say nothing", async () => {
    expect(await hostFacts(null, machine.root)).toEqual({
      node_version: process.versions.node,
      memory: null,
      load: null,
      undervoltage: null,
      hottest_C: null,
      store: null,
    });
  });

  it("tell by the mount the store is on whether it may be written", () => {
    const mounts = [
      "/dev/root / ext4 ro,relatime 0 0",
      "/dev/sda1 /var/lib ext4 rw,relatime 0 0",
      "/dev/sdb1 /media/a\\040disk vfat ro 0 0",
      "tmpfs /var/library tmpfs ro 0 0",
    ].join("\n");
    expect(isReadOnly(mounts, "/etc/tidemark")).toBe(true);
    expect(isReadOnly(mounts, "/var/lib/tidemark")).toBe(false);
    expect(isReadOnly(mounts, "/media/a disk")).toBe(true);
    // A later mount on the same place covers the earlier.
    expect(isReadOnly(`${mounts}\noverlay / overlay rw 0 0`, "/etc/tidemark")).toBe(false);
    expect(isReadOnly("", "/anywhere")).toBe(false);
  });
});

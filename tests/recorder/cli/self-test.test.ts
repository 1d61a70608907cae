/** `tidemark self-test` against the whole recorder with a simulated gym on its lines, in real time. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { stringify } from "smol-toml";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { type Finding, worstOf } from "../../../calibration/self-test/finding.ts";
import { runCli } from "../../../recorder/cli/cli.ts";
import { type SelfTestAnswer, selfTestSchema } from "../../../recorder/cli/self-test/answers.ts";
import { sayReport } from "../../../recorder/cli/self-test/report-text.ts";
import { sensorFindings } from "../../../recorder/cli/self-test/sensor-findings.ts";
import { realTime } from "../../../recorder/simulated-gym/pace.ts";
import { FACTS } from "../../calibration/self-test/boards.ts";
import { made } from "../../calibration/self-test/made-samples.ts";
import { configurationIn, type GymService, startGym, stopAll } from "../run/gym-service.ts";
import { readyBench } from "../station/bench.ts";
import { cli, fakeTerminal } from "./fake-terminal.ts";

interface Report {
  readonly stations: readonly {
    readonly station: string;
    readonly findings: readonly Finding[];
    readonly sample?: SelfTestAnswer;
  }[];
  readonly host: readonly Finding[];
  readonly broker: readonly Finding[];
  readonly faults: number;
}

const STATION = "leg-press";
let directory: string;
let config: string;
let gym: GymService;
beforeAll(async () => {
  directory = mkdtempSync(join(tmpdir(), "tidemark-self-test-"));
  const configuration = configurationIn(directory);
  gym = await startGym(configuration, true, realTime());
  // As it would be read from a file: the port that was free, and nothing that is not there.
  const shown = { ...configuration, embedded_broker: { port: gym.port } };
  config = join(directory, "tidemark.toml");
  writeFileSync(config, stringify(JSON.parse(JSON.stringify(shown))));
  await ready();
});
afterAll(async () => {
  await stopAll();
  rmSync(directory, { recursive: true, force: true });
});
afterEach(() => gym.gym.station(STATION).amplifier("well"));

/** Resolves when a set could begin at the leg press. */
const ready = (): Promise<unknown> =>
  gym.next(
    ({ station, topic, message }) => topic === "sensor" && station === STATION && (message as { ready: boolean }).ready,
  );
/** Resolves when the leg press says so in its reasons. */
const saying = (text: RegExp): Promise<unknown> =>
  gym.next(
    ({ station, topic, message }) =>
      topic === "sensor" &&
      station === STATION &&
      text.test((message as { reasons: readonly string[] }).reasons.join(" ")),
  );

const reportOf = (out: string): Report => JSON.parse(out) as Report;
const atFault = (findings: readonly Finding[]): string[] =>
  findings.flatMap(({ level, check }) => (level === "fault" ? [check] : []));

describe("self-test over the running recorder", () => {
  it("finds no fault at a good station, its box and its broker, and says so in 80 columns", async () => {
    const ran = await cli("self-test", STATION, "--seconds", "2", "--lamps", "--config", config);
    expect(ran.error).toBe("testing leg-press for 2 s: keep away from the machines");
    const lines = ran.out.split("\n");
    // The machine that runs this may have faults of its own; then they, and only they, are the exit code.
    const of_station = lines.slice(0, lines.indexOf("the box"));
    expect(of_station.filter((line) => /^ {2}(fault|notice) /.test(line))).toEqual([]);
    expect(ran.exit).toBe(lines.some((line) => line.startsWith("  fault ")) ? 1 : 0);
    expect(lines[0]).toBe("leg-press: board press-1, hx711, gain 128, firmware simulated/1");
    for (const part of ["the box", "the broker"]) expect(lines).toContain(part);
    expect(lines.at(-1)).toMatch(/^(No fault|\d+ faults?)/);
    expect(lines.filter((line) => line.length > 80 && !line.includes(directory))).toEqual([]);
    expect(ran.out).toMatch(/lamp-1: Lamp 1 was to be lit[^:]*\d+\s+ms/);
  });

  it("takes all stations at once, and answers in JSON with the readings", async () => {
    const ran = await cli("self-test", "--seconds", "2", "--mains", "50", "--json", "--config", config);
    const { stations, host, broker, faults } = reportOf(ran.out);
    expect(faults).toBe(atFault([...host, ...broker]).length);
    expect(ran.exit).toBe(faults === 0 ? 0 : 1);
    expect(stations.map(({ station }) => station)).toEqual([STATION, "knee-extension", "pull-down"]);
    for (const { sample, findings } of stations) {
      expect(sample?.counts.length).toBeGreaterThan(140);
      expect(sample?.ended).toBe("complete");
      expect(atFault(findings)).toEqual([]);
      expect(findings.find(({ check }) => check === "mains")?.what).not.toMatch(/60/);
    }
    expect(host.map(({ check }) => check)).toEqual(
      expect.arrayContaining(["recorder", "clock", "delay", "storage", "node"]),
    );
    expect(broker.map(({ check }) => check).slice(0, 3)).toEqual(["connect", "retained", "presence"]);
    expect(atFault(broker.slice(0, 3))).toEqual([]);
    const live = broker.slice(3);
    expect(live.every(({ check }) => check.startsWith("live"))).toBe(true);
    expect(new Set(live.map(({ values }) => values["station"]))).toEqual(
      new Set(stations.map(({ station }) => station)),
    );
    for (const { values } of live) expect(values["rate_Hz"]).toBeGreaterThan(0);
  });

  it("samples a saturated amplifier all the same, and the fault is the exit code", async () => {
    gym.gym.station(STATION).amplifier("stuck-high");
    await saying(/range/);
    const ran = await cli("self-test", STATION, "--seconds", "2", "--no-broker", "--json", "--config", config);
    const { stations, broker, faults } = reportOf(ran.out);
    expect(ran.exit).toBe(1);
    expect(faults).toBeGreaterThan(0);
    expect(broker).toEqual([]);
    expect(atFault(stations[0]!.findings)).toEqual(["trouble", "saturation"]);
    expect(new Set(stations[0]!.sample?.counts)).toEqual(new Set([8_388_607]));
    gym.gym.station(STATION).amplifier("well");
    await ready();
  });

  it("does not look at a silent one, and says what would do", async () => {
    gym.gym.station(STATION).amplifier("silent");
    await saying(/amplifier/);
    const ran = await cli("self-test", STATION, "--seconds", "2", "--no-broker", "--config", config);
    expect(ran.exit).toBe(1);
    expect(ran.out).toMatch(/fault\s+readings: Not looked at: (The board hears nothing|No readings come)/);
    expect(ran.out.split("\n").at(-1)).toMatch(/^1 fault.*anybody trains/);
    gym.gym.station(STATION).amplifier("well");
    await ready();
  });

  it("answers when the line dies in the middle, with what there is; meanwhile nobody can begin", async () => {
    const running = cli("self-test", STATION, "--seconds", "60", "--no-broker", "--json", "--config", config);
    await saying(/self-test of 60 s is running/);
    expect(await gym.ask("begin", { station: STATION, trainee: "otter-14" })).toMatchObject({
      ok: false,
      error: { code: "busy", message: expect.stringContaining("self-test of 60 s") },
    });
    expect(await gym.ask("self-test", { station: STATION })).toMatchObject({ ok: false, error: { code: "busy" } });
    // A second command says that it is busy, and that is no fault of the station.
    const second = await cli("self-test", STATION, "--no-broker", "--json", "--config", config);
    expect(reportOf(second.out).stations[0]?.findings).toMatchObject([
      { check: "readings", level: "notice", what: expect.stringContaining("A self-test of 60 s is running") },
      { check: "port", level: "good" },
    ]);
    gym.gym.station(STATION).unplug();
    const { stations } = reportOf((await running).out);
    expect(atFault(stations[0]!.findings)).toEqual(expect.arrayContaining(["ended", "trouble"]));
    expect(stations[0]!.sample?.ended).toBe("interrupted");
    gym.gym.station(STATION).plug();
    await ready();
  });

  it("stops at Ctrl-C, and says nothing of half a test", async () => {
    const terminal = fakeTerminal();
    const running = runCli(["self-test", STATION, "--seconds", "2", "--config", config], terminal);
    await saying(/self-test/);
    terminal.interrupt();
    expect(await running).toBe(1);
    expect(terminal.said).toEqual([]);
    expect(terminal.complained.at(-1)).toMatch(/^stopped/);
    await ready();
  });
});

describe("what is asked wrongly, or cannot be asked", () => {
  it.each([
    [["--seconds", "1"], /--seconds must be at least 2|--seconds/],
    [["--mains", "55"], /--mains takes 50 or 60, not 55/],
    [["--display-password-file", "x"], /of no use without --display-username/],
    [[STATION, "another"], /nothing to do with another/],
  ] as const)("%s is wrong usage", async (words, message) => {
    const ran = await cli("self-test", ...words, "--config", config);
    expect(ran.exit).toBe(2);
    expect(ran.error).toMatch(message);
  });

  it("names the stations where one is asked for that is none", async () => {
    const ran = await cli("self-test", "rowing", "--config", config);
    expect([ran.exit, ran.error]).toEqual([
      1,
      "there is no station rowing: it is one of leg-press, knee-extension, pull-down",
    ]);
  });

  it("looks at port, box and broker where the recorder does not run", async () => {
    const elsewhere = mkdtempSync(join(tmpdir(), "tidemark-nothing-"));
    const file = join(elsewhere, "tidemark.toml");
    const shown = { ...configurationIn(elsewhere), embedded_broker: { port: 1 } };
    writeFileSync(file, stringify(JSON.parse(JSON.stringify(shown))));
    const { exit, out } = await cli("self-test", STATION, "--json", "--config", file);
    const { stations, host, broker } = reportOf(out);
    rmSync(elsewhere, { recursive: true });
    expect(exit).toBe(1);
    expect(stations).toMatchObject([{ station: STATION, findings: [{ check: "port", level: "fault" }] }]);
    expect(host[0]).toMatchObject({ check: "recorder", level: "fault", do: "Start it with `tidemark run`." });
    // It is the recorder's own, so nobody is told to start it or to correct its address.
    const remedy = expect.stringMatching(/^The recorder brings this broker with it, so start the recorder.*\.$/);
    expect(broker).toMatchObject([
      { check: "connect", level: "fault", what: "Nothing listens at 127.0.0.1:1.", do: remedy },
    ]);
  });
});

const ANSWER: SelfTestAnswer = {
  station: STATION,
  duration_s: 10,
  ended: "complete",
  ...made(),
  at_us: [...made().at_us],
  counts: [...made().counts],
  dialect: "tm1",
  serial_port: "/dev/press",
  board: "press-left",
  firmware: "reference-avr/1.0.0",
  amplifier: FACTS.amplifier,
  gain: FACTS.gain,
  configured_rate_Hz: FACTS.configured_rate_Hz,
  counts_per_N: FACTS.counts_per_N,
  zero_counts: FACTS.zero_counts,
  cell_capacity_N: FACTS.cell_capacity_N,
  working_force_N: FACTS.working_force_N,
  trouble: null,
  lamps: [
    { lamp: 1, answered_ms: 12.4 },
    { lamp: 2, answered_ms: null },
  ],
};

describe("what is said", () => {
  it("of a good station, whole", () => {
    const findings = sensorFindings(ANSWER, { mains_Hz: 50, lamps: false });
    expect(worstOf(findings)).toBe("good");
    expect(sayReport([{ heading: "leg-press: board press-left, hx711", findings }])).toMatchInlineSnapshot(`
      "leg-press: board press-left, hx711
        good    rest: It was at rest: half-second means lie within 23.4 counts (0.0109
                N), at -0.0002 N by the zero in use.
        good    readings: 801 readings in 10.0 s.
        good    rate: The amplifier converts 80 times a second; 80 are configured.
        good    jitter: Readings come every 12.5 ms, give or take 0 ms (sd), 12.5 ms
                at most.
        good    loss: No reading was lost.
        good    lines: Every line could be read.
        good    saturation: No reading is at the end of the amplifier's range.
        good    stuck: The readings take 179 different values, as a live amplifier's
                do.
        good    bits: The lowest 7 bits change as they should; higher ones cannot be
                seen at rest.
        good    spikes: No single reading lies far from those around it.
        good    noise: One reading scatters by 40.4 counts (0.0188 N) (sd); free of
                noise to 267 counts (0.124 N), 15.9 bits (an HX711's datasheet leads
                to expect 38.7 counts); the work can bear it.
        good    mains: Nothing at 50 or 100 Hz above 12.7 counts (0.0059 N).
        good    swing: Nothing swings: no line between 0.3 and 8 Hz stands out, the
                strongest being 6.87 counts (0.0032 N).
        good    drift: No drift beyond the scatter: 4.66 counts (0.0022 N) a minute,
                give or take 25.7 counts (0.012 N).
        good    averaging: A single reading scatters by 40.4 counts (0.0188 N), means
                over 0.2 s 9.11 counts (0.0042 N), over 1 s 3.66 counts (0.0017 N);
                averaging helps up to 2.5 s, the longest these readings can tell of.
        good    range: It rests at 1.3 % of the amplifier's range, capacity takes 51 %
                of it, and it ends at 3856 N.

      No fault: all is well."
    `);
  });

  it("of a station without a calibration that fits: a notice with what would do, and no fault", () => {
    const bare: SelfTestAnswer = { ...ANSWER, counts_per_N: null, zero_counts: null };
    const worse = (answer: SelfTestAnswer) =>
      sensorFindings(answer, { mains_Hz: 50, lamps: false }).filter(({ level }) => level !== "good");
    expect(worse(bare)).toMatchObject([
      { check: "calibration", level: "notice", do: expect.stringContaining("`tidemark calibrate leg-press`") },
    ]);
    // A board that began anew may not have said who it is, so nobody knows yet whether one fits.
    expect(worse({ ...bare, ended: "interrupted" }).map(({ check }) => check)).toEqual(["ended"]);
  });

  it("of lamps: one that answered, one that did not, and worst first", () => {
    const [first, ...others] = sayReport([
      { heading: STATION, findings: sensorFindings(ANSWER, { mains_Hz: 50, lamps: true }) },
    ])
      .split("\n")
      .slice(1);
    expect(first).toBe("  fault   lamp-2: The board did not answer when lamp 2 was to be lit: a stop may");
    expect(others.join(" ")).toMatch(/do: Check the wire from the box to the board, and the board's\s+program\./);
    expect(others.at(-1)).toBe("1 fault: put the faults right before anybody trains here.");
  });

  it("of a stuck board, from the readings that the station answers with", () => {
    const bench = readyBench();
    for (let index = 0; index < 300; index++) bench.read(12_345);
    bench.ask("self-test", { duration_s: 4 });
    for (let index = 0; index < 330; index++) bench.read(12_345);
    const outcome = bench.answer();
    const answer = selfTestSchema.parse(outcome?.ok === true ? outcome.result : null);
    expect(atFault(sensorFindings(answer, { mains_Hz: undefined, lamps: false }))).toEqual(["trouble", "stuck"]);
  });

  it("sums up by its worst, in the singular and the plural", () => {
    const finding = (level: Finding["level"]): Finding => ({
      check: "x",
      level,
      what: "So.",
      do: level === "good" ? null : "Do.",
      values: {},
    });
    const last = (...levels: readonly Finding["level"][]) =>
      sayReport([{ heading: "x", findings: levels.map(finding) }])
        .split("\n")
        .at(-1);
    expect(last("good")).toBe("No fault: all is well.");
    expect(last("good", "notice")).toBe("No fault and 1 notice: usable, and it could be better.");
    expect(last("notice", "fault", "notice", "fault")).toBe(
      "2 faults and 2 notices: put the faults right before anybody trains here.",
    );
  });
});

/**
 * A small gym of our own invention: three stations, six trainees known by codes, and what they do all day.
 *
 * - `leg-press`: a motor sets the speed, the board knows its direction; continuous repetitions.
 * - `knee-extension`: the lever is locked; steady holds for people who come back from an injury.
 * - `pull-down`: a motor goes back unloaded and the board does not know its direction; eccentric work, and clusters with
 *   pauses. Its trainer has no tablet at hand: the second set is begun with the key.
 */
import type { CalibrationRecord } from "../../calibration/record.ts";
import { type Configuration, configurationSchema, type StationConfiguration } from "../configuration/schema.ts";
import { SIMULATED } from "./binding.ts";
import type { Board } from "./board.ts";
import type { Plan, Visit } from "./director.ts";
import { JOINT_REGIONS } from "./fatigue.ts";
import { seedFor, uniformAt } from "./random.ts";
import type { Rig } from "./rig.ts";
import { calibrated } from "./rig-calibration.ts";
import type { SimulatedStation } from "./station.ts";
import { fatigueResistant, strongFastFatiguing, trainee } from "./trainees.ts";

/** Where the throw-away recorder keeps its things. */
export interface Places {
  readonly store: string;
  readonly socket: string;
  readonly service_socket: string;
  /** Of the embedded broker, on loopback; 0: any free one. */
  readonly port: number;
}

const STATIONS = [
  {
    id: "leg-press",
    exercise: "leg-press",
    exercise_label: "Leg press",
    serial_port: `${SIMULATED}leg-press`,
    board: "press-1",
    resistance: "driven",
    cell_capacity_N: 6000,
    force_limit_N: 5000,
    working_force_N: 2500,
    latitude_deg: 52,
    style: "continuous",
    fatigue_threshold_percent: 40,
  },
  {
    id: "knee-extension",
    exercise: "knee-extension",
    exercise_label: "Knee extension",
    serial_port: `${SIMULATED}knee-extension`,
    board: "knee-1",
    resistance: "locked",
    cell_capacity_N: 2000,
    force_limit_N: 1500,
    working_force_N: 500,
    latitude_deg: 52,
    style: "hold",
    fatigue_threshold_percent: 20,
  },
  {
    id: "pull-down",
    exercise: "pull-down",
    exercise_label: "Pull-down",
    serial_port: `${SIMULATED}pull-down`,
    board: "pull-1",
    resistance: "driven",
    cell_capacity_N: 3000,
    force_limit_N: 2500,
    working_force_N: 900,
    latitude_deg: 52,
    style: "eccentric-only",
    return_stroke: "unloaded",
    fatigue_threshold_percent: 25,
  },
] as const;

const AMPLIFIER = "hx711";

export function gymConfiguration(places: Places): Configuration {
  return configurationSchema.parse({
    site: "paper-hall",
    recorder: "paper-box",
    time_zone: "UTC",
    embedded_broker: { port: places.port },
    store: { path: places.store },
    control: { socket: places.socket, service_socket: places.service_socket },
    station: STATIONS,
  });
}

/** A cell and amplifier fit for the station, each a little different from the next. */
export function rigFor(station: StationConfiguration, seed: number): Rig {
  const own = (source: string, from: number, to: number): number =>
    from + (to - from) * uniformAt(seedFor(seed, `${station.id} ${source}`), 0);
  return {
    cell_capacity_N: station.cell_capacity_N,
    sensitivity_mV_per_V: own("sensitivity", 1.99, 2.01),
    zero_mV_per_V: own("zero", -0.03, 0.03),
    excitation_V: 5,
    zero_drift_per_degC: own("drift", -2e-5, 2e-5),
    temperature_swing_degC: 2,
    temperature_swing_s: own("swing", 3000, 5000),
    creep: own("creep", -2e-4, 2e-4),
    creep_s: 300,
    friction_N: 0,
    spikes_per_hour: 20,
    spike_counts: 400_000,
  };
}

export function stationsOf(configuration: Configuration, seed: number): readonly SimulatedStation[] {
  return configuration.station.map((station) => ({
    id: station.id,
    rig: rigFor(station, seed),
    board: boardFor(station),
    rate_error: 0.02 * (2 * uniformAt(seedFor(seed, `${station.id} oscillator`), 0) - 1),
    jitter_us: 60,
  }));
}

function boardFor(station: StationConfiguration): Board {
  return {
    firmware: "simulated/1",
    board: station.board ?? station.id,
    amplifier: AMPLIFIER,
    rate_wired: true,
    gain: station.gain,
    rate: station.rate,
    clock_at_boot_us: 0,
    reports_muscle_action: station.id === "leg-press",
  };
}

/**
 * One record a station, taken `days_ago`; `ids` are UUIDs, one a station. `seed` is the gym's, which its rigs are made up with;
 * another `visit` is the same rigs on another day.
 */
export function calibrationsOf(
  configuration: Configuration,
  when: { readonly now_ms: number; readonly days_ago: number; readonly ids: readonly string[] },
  seed: number,
  visit = seed,
): readonly CalibrationRecord[] {
  const taken_ms = when.now_ms - when.days_ago * 24 * 3600 * 1000;
  return configuration.station.map((station, index) => {
    const calibration_id = when.ids[index];
    if (calibration_id === undefined) throw new Error("as many ids as stations are needed");
    return calibrated(station, rigFor(station, seed), AMPLIFIER, { calibration_id, taken_ms }, visit);
  });
}

const KNEE = JOINT_REGIONS.knee;

const VISITS: Readonly<Record<string, readonly Visit[]>> = {
  "leg-press": [
    {
      trainee: strongFastFatiguing("otter-14"),
      pause_s: 3,
      begun_by: { request: { trainee: "otter-14", side: "both", fatigue_threshold: 0.4 } },
    },
    {
      trainee: fatigueResistant("heron-07"),
      pause_s: 20,
      begun_by: { request: { trainee: "heron-07", side: "both", fatigue_threshold: 0.4 } },
    },
  ],
  "knee-extension": [
    {
      trainee: trainee("wren-21", 520, KNEE, { style: "hold" }),
      pause_s: 5,
      begun_by: { request: { trainee: "wren-21", side: "left", fatigue_threshold: 0.2 } },
    },
    {
      trainee: trainee("marten-02", 690, JOINT_REGIONS.general, { style: "hold" }),
      pause_s: 25,
      begun_by: { request: { trainee: "marten-02", side: "right", fatigue_threshold: 0.25 } },
    },
  ],
  "pull-down": [
    {
      trainee: trainee("ibex-03", 1000, KNEE, { style: "eccentric-only", eccentric_s: 4, return_s: 3 }),
      pause_s: 8,
      begun_by: { request: { trainee: "ibex-03", side: "both", fatigue_threshold: 0.25 } },
    },
    {
      trainee: trainee("ibex-03", 1000, KNEE, { style: "eccentric-only", eccentric_s: 4, return_s: 3 }),
      pause_s: 30,
      begun_by: { key: 1 },
    },
    {
      trainee: trainee("lynx-11", 1150, KNEE, {
        style: "rest-pause",
        effort_s: 3,
        efforts_per_cluster: 3,
        gap_s: 2,
        rest_s: 9,
      }),
      pause_s: 20,
      begun_by: {
        request: {
          trainee: "lynx-11",
          side: "both",
          style: "rest-pause",
          fatigue_threshold: 0.2,
          options: { efforts_per_cluster: 3 },
        },
      },
    },
  ],
};

/** What happens at each station; `sets` each and then it closes, or null: all day. */
export function plansOf(configuration: Configuration, sets: number | null): readonly Plan[] {
  return configuration.station.map(({ id }) => ({ station: id, visits: VISITS[id] ?? [], closes_after: sets }));
}

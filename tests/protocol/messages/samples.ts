/** One good payload of every message. All of it is invented. */
import type { PresenceMessage } from "../../../protocol/messages/presence.ts";
import type { SetMessage } from "../../../protocol/messages/set.ts";
import type { EffortMessage, LiveMessage, SensorMessage, StateMessage } from "../../../protocol/messages/station.ts";

const envelope = {
  schema_version: 1,
  at: "2026-11-20T09:31:07.412Z",
  clock_synced: true,
  recorder: "hall-box",
  boot: "7f1c0a52-6f0e-4a57-9f0c-0d9a2b6f7c11",
  simulated: true,
} as const;

const SET_ID = "019a9f3c-5a10-7c3e-8b7d-2f4f0a6be001";
const STORE = "c7b0d5a4-1f3e-4b0a-9a55-3c7f8e2d1b90";

const effort = {
  effort_number: 2,
  start_s: 3.112,
  duration_s: 1.408,
  peak_force_N: 1190.52,
  valley_force_N: 61.4,
  mean_force_N: 871.05,
  impulse_N_s: 1226.44,
  muscle_action: "concentric",
  floor_force_N: 727.38,
  below_floor: false,
  counted: true,
  brief: false,
} as const;

const set: SetMessage = {
  ...envelope,
  set_id: SET_ID,
  store: STORE,
  set_seq: 41,
  revision: 1,
  station: "leg-press",
  exercise: "leg-press",
  exercise_label: "Leg press",
  trainee: "T-017",
  side: "both",
  style: "continuous",
  intent: "maximal",
  warm_up: false,
  set_of_day: 1,
  rested_s: null,
  fatigue_threshold: 0.4,
  options: {
    grace_s: 1,
    rest_limit_s: 8,
    time_limit_s: 300,
    effort_limit: null,
    below_floor_to_stop: 1,
    onset_force_N: 50,
    efforts_per_cluster: 2,
    tested_best_force_N: null,
    best_from: "set",
    ceiling_force_N: null,
  },
  tested_best_force_N: null,
  started_at: "2026-11-20T09:30:01.004Z",
  duration_s: 62.31,
  time_under_tension_s: 40.117,
  stop_reason: "effort-below-floor",
  ended_because: null,
  reached_threshold: true,
  cut_short: false,
  best_force_N: 1212.3,
  today_best_force_N: 1212.3,
  floor_force_N: 727.38,
  final_force_N: 698.2,
  force_loss: 0.4241,
  force_loss_today: 0.4241,
  force_loss_uncertainty: 0.0112,
  impulse_N_s: 34110.9,
  mean_force_N: 547.44,
  mean_effort_force_N: 850.29,
  decline_per_s: 0.0071,
  decline_per_effort: 0.0212,
  concentric_best_force_N: 1212.3,
  eccentric_best_force_N: null,
  decided_by: "concentric",
  efforts: [{ ...effort, effort_number: 1, start_s: 0, valley_force_N: null, floor_force_N: null }, effort],
  resting_force_N: null,
  resting_subtracted: false,
  calibration_id: "3c1d6a44-95c3-4a1b-8a9e-5f1f4f6f2e77",
  expanded_uncertainty_N: 13.6,
  zero_shift_N: null,
  quality: {
    readings: 4984,
    readings_lost: 0,
    lines_rejected: 0,
    despiked: 1,
    saturated: 0,
    reading_rate_Hz: 79.98,
    noise_N: 0.42,
    best_unconfirmed: false,
    warming_up: false,
  },
  engine: "1",
  void: false,
  pain: null,
  exertion: null,
  note: null,
};

const live: LiveMessage = {
  ...envelope,
  set_id: SET_ID,
  phase: "working",
  live_seq: 1711,
  elapsed_s: 12.4,
  force_N: 903.17,
  min_force_N: 871.2,
  max_force_N: 903.17,
  best_force_N: 1212.3,
  floor_force_N: 727.38,
  force_reserve: 0.3626,
  effort_number: 5,
  below_floor_s: null,
  ttl_s: 0.3,
};

const state: StateMessage = {
  ...envelope,
  phase: "finished",
  set_id: SET_ID,
  trainee: "T-017",
  side: "both",
  exercise: "leg-press",
  exercise_label: "Leg press",
  style: "continuous",
  intent: "maximal",
  fatigue_threshold: 0.4,
  resting_force: "not-needed",
  setup: { seat: "4", back: "upright" },
  comparable_set: { ...set, set_id: "019a9a01-0000-7aaa-8bbb-000000000002", set_seq: 37 },
  last_ended_at: "2026-11-20T09:31:07.412Z",
  stop_reason: "effort-below-floor",
};

const effortMessage: EffortMessage = { ...envelope, set_id: SET_ID, ...effort };

const sensor: SensorMessage = {
  ...envelope,
  ready: false,
  reasons: ["The calibration is overdue: calibrate, or put the due date later."],
  force_N: 0.31,
  zero_shift_N: -1.2,
  noise_N: 0.42,
  reading_rate_Hz: 79.98,
  lines_rejected: 3,
  readings_lost: 1,
  calibration_id: "3c1d6a44-95c3-4a1b-8a9e-5f1f4f6f2e77",
  calibration_due: "2026-11-01T00:00:00.000Z",
  warming_up: false,
  board: "press-left",
  firmware: "reference-avr/1.0.0",
  alarms: [
    {
      code: "calibration-due",
      since: "2026-11-01T00:00:00.000Z",
      detail: "The calibration is overdue: calibrate, or put the due date later.",
      latched: false,
    },
  ],
};

const presence: PresenceMessage = {
  ...envelope,
  online: true,
  reason: "start",
  since: "2026-11-20T06:00:12.000Z",
  version: "0.1.0",
  store: STORE,
  stations: ["leg-press", "row"],
  health: {
    ok: false,
    reasons: ["The disk of the store has only 140 MB left: make space on it."],
    event_loop_delay_s: 0.004,
    rss_bytes: 91_234_304,
    free_bytes: 140_123_136,
    unsaved_sets: 0,
    outbox_waiting: 0,
    stations_not_ready: ["row"],
  },
};

export const SAMPLES = {
  live,
  state,
  effort: effortMessage,
  set,
  "latest-set": set,
  sensor,
  presence,
} as const;

export const ERASED_SET = { ...envelope, set_id: SET_ID, store: STORE, set_seq: 58, erased: true } as const;

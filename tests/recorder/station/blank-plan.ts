/** A plan that says nothing: what a test is about is laid over it. */
import type { Plan } from "../../../protocol/requests/plan.ts";

export const BLANK_PLAN: Plan = {
  station: "leg-press",
  trainee: "otter-14",
  sides: [],
  exercise: null,
  style: null,
  intent: null,
  fatigue_threshold: null,
  setup: {},
  options: {},
  warm_up: null,
  rest_s: null,
  by_side: {},
  note: null,
  saved_at: "2026-11-24T10:00:00.000Z",
  performed_by: null,
};

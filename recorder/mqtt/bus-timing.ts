/** How long the broker's side waits for what. */
import { BACK_OFF, type BackOffLimits } from "./back-off.ts";

export interface BusTiming extends BackOffLimits {
  readonly keep_alive_s: number;
  readonly connect_ms: number;
  readonly answer_ms: number;
  /** For each half of a stop: saying so, and closing. */
  readonly goodbye_ms: number;
}

export const BUS_TIMING: BusTiming = {
  ...BACK_OFF,
  keep_alive_s: 10,
  connect_ms: 10_000,
  answer_ms: 10_000,
  goodbye_ms: 700,
};

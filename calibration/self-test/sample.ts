/** What a self-test starts from: raw readings at rest, and what is known of the station. */

export interface Sample {
  /** Device time of each reading; never decreases. On a `bare` line it is the host's. */
  readonly at_us: readonly number[];
  /** Raw counts, signed 24-bit, before any filter. As many as times. */
  readonly counts: readonly number[];
  /** Readings that were made and never came, by the line's own count; a bare line cannot tell. */
  readonly readings_lost: number;
  readonly lines_rejected: number;
}

export interface SensorFacts {
  /** Conversions a second the station is configured for. */
  readonly configured_rate_Hz: number;
  readonly dialect: "tm1" | "bare";
  /** As the board names it; null: it did not say. */
  readonly amplifier: string | null;
  readonly gain: number | null;
  /** Of the record in force; negative: wires reversed. null: no record, or one that does not fit the board. */
  readonly counts_per_N: number | null;
  /** The zero in use, counts. */
  readonly zero_counts: number | null;
  readonly cell_capacity_N: number;
  readonly working_force_N: number;
  /** Frequency of the local mains, where somebody said it; otherwise both are looked for. */
  readonly mains_Hz?: 50 | 60;
}

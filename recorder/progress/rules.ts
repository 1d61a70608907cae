/**
 * Every cut-off of the judgement, with what it rests on. All of them are a trainer's to choose otherwise: that a set is ended at
 * a loss is established practice, how much to change it and when is not proven for force.
 *
 * How often noise passes for change by these, and how much of a real rise they see: ERROR-RATES.md, simulated.
 */
export interface Rules {
  /** Lowered by this much at a time, as a fraction. Common practice, no source: 40 to 35 to 30 % while results keep rising. */
  readonly threshold_step: number;
  /** Never below this. Common practice, no source: under 20 % little of the set is left. */
  readonly least_threshold: number;
  /** Comparable days before anything is advised. Two against two are compared then, at the least. */
  readonly least_days: number;
  /** From the first to the newest day at a threshold, before it is judged. Common practice, no source: strength takes weeks. */
  readonly least_dose_days: number;
  /** The newest days that are set against the first ones, and how many of those, at most. */
  readonly newest_days: number;
  readonly first_days: number;
  /** At so many visits in a row the improvement must have been a real one: one look in forty is wrong, and there are many. */
  readonly improved_visits: number;
  /** Days away after which the record no longer tells what to expect. */
  readonly away_days: number;
  /** Visits closer than this may find somebody unrested, days. */
  readonly rested_days: number;
  /** Pain from this on, of ten, silences advice: it is for people to judge, not for a rule. */
  readonly pain_from: number;
  /** Days of the trainee's own that tell their typical error. Of fewer the error would be as uncertain as the published one. */
  readonly own_days: number;
  /** Fewer degrees of freedom than these tell no error: ten days in a row have 5.3, fewer come of many breaks between them. */
  readonly least_degrees: number;
  /** As a fraction; nobody repeats themselves better than the best of published groups by half. */
  readonly least_typical_error: number;
  /** One day's typical error of best where it is known from elsewhere, as a fraction; null: own, else published. */
  readonly known_typical_error: number | null;
  /** Expanded uncertainty (k = 2) of a force whose own is not known, as a fraction: the most a calibration is accepted with. */
  readonly unknown_uncertainty: number;
  /** Days that a line looks back on: one through a year says little of tomorrow. */
  readonly looked_back_days: number;
  /** Of fewer days a line follows chance; their mean is the better guess. */
  readonly line_days: number;
  /** And the mean of so many before the newest: whoever has risen and stays there is not below what they have shown. */
  readonly level_days: number;
}

export const DEFAULT_RULES: Rules = {
  threshold_step: 0.05,
  least_threshold: 0.2,
  least_days: 5,
  least_dose_days: 14,
  newest_days: 3,
  first_days: 6,
  improved_visits: 2,
  away_days: 21,
  rested_days: 2,
  pain_from: 1,
  own_days: 10,
  least_degrees: 4,
  least_typical_error: 0.015,
  known_typical_error: null,
  unknown_uncertainty: 0.02,
  looked_back_days: 10,
  line_days: 6,
  level_days: 4,
};

/**
 * How much of a load that ought not to be there the tracked zero takes away, on a cell of 5000 N, whose d is 1 N. Every
 * reading passes the median, the judgement of stillness and the zero, as in a recorder; the sensor was at rest before.
 *
 * Whatever comes, three bounds hold: half a d in ten seconds (0.05 N/s, 3 N a minute); nothing while the force stands more
 * than 2 d from the zero in use, or has not been within it, and still, for a minute; and 2 % of capacity (100 N) from the
 * last asked zero. So a load put on at once is not taken at all; one put on faster than 3 N a minute is lost after the first
 * few newtons; and one that comes more slowly looks like drift to any sensor, and is taken as far as the 2 % go. What was
 * taken is a force of the other sign once the load is gone, and `zero-moved` says so.
 */

export const AUTHORITY_N = 100;
const RATE_N_PER_S = 0.05;
export const STEP_N = 0.5;
const BAND_N = 2;
const HOUR_S = 3600;

/** N in seconds of one try. */
type Load = (s: number) => number;

export interface Trial {
  readonly what: string;
  readonly force_N: number;
  /** Seconds in which it comes on. */
  readonly over_s: number;
  readonly load: Load;
  /** Seconds of the whole try, and how many of them. */
  readonly lasts_s: number;
  readonly tries: number;
  /** Standard deviation of a reading. */
  readonly noise_N: number;
  /** What may be taken at most, N, by the three bounds. */
  readonly bound_N: number;
  /** What is taken, N: of the widest that the zero stood away at any time. */
  readonly absorbed_N: number;
  /** Alarms that stand while the load is on, or stood last. */
  readonly alarms: readonly string[];
}

/**
 * What may be taken of a load that comes on evenly: all of it where it is slow. Faster than tracking follows, it is 2 d ahead
 * after a while, which a step may put off by once: until then half a d in ten seconds.
 */
function rampBound_N(force_N: number, over_s: number): number {
  const rate_N_per_s = force_N / over_s;
  if (rate_N_per_s <= RATE_N_PER_S) return Math.min(force_N, AUTHORITY_N);
  const near_s = (BAND_N + STEP_N) / (rate_N_per_s - RATE_N_PER_S);
  return Math.min(force_N, AUTHORITY_N, RATE_N_PER_S * near_s + STEP_N);
}

const ramp =
  (force_N: number, over_s: number): Load =>
  (s) =>
    force_N * Math.min(1, s / over_s);
/** Tremor of 9 Hz by 2 % and breaths of 15 a minute by 5 % of what rests: invented, of the size that is common practice, no source. */
const alive =
  (load: Load): Load =>
  (s) =>
    load(s) * (1 + 0.02 * Math.sin(2 * Math.PI * 9 * s) + 0.05 * Math.sin(2 * Math.PI * 0.25 * s));

const QUIET = { tries: 1, noise_N: 0.1, alarms: [] } as const;
const slowly = (force_N: number, over_s: number) => ({
  ...QUIET,
  force_N,
  over_s,
  load: ramp(force_N, over_s),
  lasts_s: over_s + HOUR_S,
  bound_N: rampBound_N(force_N, over_s),
});
const atOnce = (force_N: number, lasts_s: number) => ({
  ...QUIET,
  force_N,
  over_s: 0,
  load: () => force_N,
  lasts_s,
  bound_N: 0,
});

/** For the technician's page as well: what comes on, how fast, what is taken, and the bound. */
export const TRIALS: readonly Trial[] = [
  { what: "a slow hand", ...slowly(50, 600), absorbed_N: 2, alarms: ["zero-moved"] },
  { what: "a slow hand", ...slowly(50, HOUR_S), absorbed_N: 50 },
  { what: "a slow hand", ...slowly(50, 8 * HOUR_S), absorbed_N: 50 },
  { what: "a hand slower than the rate by a little", ...slowly(50, 1020), absorbed_N: 50 },
  { what: "more than the 2 %", ...slowly(150, 8 * HOUR_S), absorbed_N: 100, alarms: ["zero-out-of-range"] },
  { what: "a bag that hangs for an hour", ...atOnce(20, HOUR_S), absorbed_N: 0, alarms: ["zero-moved"] },
  { what: "a towel that hangs for an hour", ...atOnce(1.5, HOUR_S), bound_N: BAND_N, absorbed_N: 1.5 },
  { what: "a resting limb", ...atOnce(80, 600), load: alive(() => 80), absorbed_N: 0 },
  {
    what: "a limb put on slowly",
    ...slowly(80, 600),
    load: alive(ramp(80, 600)),
    absorbed_N: 0.5,
    alarms: ["zero-moved"],
  },
  { what: "a limb put on more slowly", ...slowly(80, HOUR_S), load: alive(ramp(80, HOUR_S)), absorbed_N: 22.7 },
  { what: "a limb put on slowly within the noise", ...slowly(80, 1800), noise_N: 0.5, absorbed_N: 80 },
  {
    what: "a limb put on slowly within more noise",
    ...slowly(80, 1800),
    noise_N: 1,
    absorbed_N: 0,
    alarms: ["zero-moved"],
  },
  {
    what: "a light hand after a set, 50 s at a time, a hundred times",
    ...atOnce(1.9, 55),
    load: (s) => (s < 1 ? 30 : s < 51 ? 1.9 : 0),
    tries: 100,
    absorbed_N: 0,
  },
  {
    what: "a hand slowly on and off at once, five times",
    ...slowly(50, 1200),
    load: (s) => (s < 1500 ? ramp(50, 1200)(s) : 0),
    lasts_s: 1800,
    tries: 5,
    absorbed_N: 50,
    alarms: ["zero-moved"],
  },
];

/** The row of the table for people. */
const sayTime = (s: number): string =>
  s === 0 ? "at once" : s < HOUR_S ? `over ${s / 60} min` : `over ${s / HOUR_S} h`;
export const sayTrial = ({ what, force_N, over_s, noise_N, absorbed_N, bound_N }: Trial): string => {
  const noise = noise_N === QUIET.noise_N ? "" : ` (noise ${noise_N} N)`;
  return `${what}${noise}: of ${force_N} N ${sayTime(over_s)} it takes ${absorbed_N} N, at most ${bound_N.toFixed(1)} N`;
};

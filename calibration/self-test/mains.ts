/**
 * Pickup from the mains: a line at 50 or 60 Hz or its double, where the readings' own times let it be seen.
 *
 * The frequency is searched around its nominal value, since the board's clock may be half a percent off (ceramic resonators,
 * common practice) and the mains a little. What else is there sets the floor: the fits a few hertz to either side. In noise a fit
 * explains an exponentially distributed amount, so the ratio that chance reaches once in ten thousand times is a logarithm.
 */
import type { Found } from "./finding.ts";
import { medianOf } from "./order.ts";
import { amplitudeOf, explainedSquares, type Residuals, strongestOf } from "./sine-fit.ts";
import { amount, digits, inCounts, inForce, newtons } from "./wording.ts";
import type { Yardstick } from "./yardstick.ts";

const MAINS_HZ = [50, 60] as const;
const CLOCK_OFF = 0.006;
const BY_CHANCE = 1e-4;
const FLOOR_BAND_HZ = 3;
/** What shows below this may be something that swings, and rises out of a value that wanders: it must explain half of all scatter. */
const SLOW_HZ = 8;
const STRONG_SHARE = 0.5;
/** Fits on either side that make the floor. */
const FLOOR_FITS = 24;
/** Amplitude that disturbs zero and calibration, in divisions. */
const DISTURBING_DIVISIONS = 0.5;

export interface MainsLine {
  readonly nominal_Hz: number;
  /** Where it shows at this rate. */
  readonly seen_at_Hz: number;
  readonly amplitude_counts: number;
  /** The smallest amplitude that would have been told from chance. */
  readonly visible_counts: number;
  readonly significant: boolean;
}

/** Where a frequency shows among readings at a rate: 50 Hz at 80 a second shows at 30. */
export function aliasOf(frequency_Hz: number, rate_Hz: number): number {
  return Math.abs(frequency_Hz - rate_Hz * Math.round(frequency_Hz / rate_Hz));
}

function searchHalfWidth_Hz(nominal_Hz: number, duration_s: number): number {
  return CLOCK_OFF * nominal_Hz + 0.5 / duration_s;
}

export interface MainsLines {
  /** Those that can be seen at this rate. */
  readonly lines: readonly MainsLine[];
  /** Frequencies that fold onto standing still. */
  readonly hidden_Hz: readonly number[];
}

/** @param mains_Hz undefined: not told, so both are looked for. */
export function mainsLines(residuals: Residuals, mains_Hz: 50 | 60 | undefined): MainsLines {
  const fundamentals = mains_Hz === undefined ? MAINS_HZ : [mains_Hz];
  const nominals = [...fundamentals, ...fundamentals.map((frequency) => 2 * frequency)];
  const { duration_s, rate_Hz } = residuals;
  const visible = nominals.filter(
    (nominal) => aliasOf(nominal, rate_Hz) > searchHalfWidth_Hz(nominal, duration_s) + 3 / duration_s,
  );
  return {
    lines: visible.map((nominal) => lineAt(residuals, nominal, nominals.length)),
    hidden_Hz: nominals.filter((nominal) => !visible.includes(nominal)),
  };
}

function lineAt(residuals: Residuals, nominal_Hz: number, tried: number): MainsLine {
  const { at_s, counts, duration_s, rate_Hz } = residuals;
  const half_Hz = searchHalfWidth_Hz(nominal_Hz, duration_s);
  const coarse_Hz = 1 / (2 * duration_s);
  const about = strongestOf(residuals, {
    from_Hz: nominal_Hz - half_Hz,
    step_Hz: coarse_Hz,
    steps: Math.ceil((2 * half_Hz) / coarse_Hz) + 1,
  });
  const best = strongestOf(residuals, {
    from_Hz: about.frequency_Hz - coarse_Hz / 2,
    step_Hz: coarse_Hz / 4,
    steps: 5,
  });
  const beside = { step_Hz: Math.max(1 / duration_s, FLOOR_BAND_HZ / FLOOR_FITS), steps: FLOOR_FITS };
  const away_Hz = half_Hz + 2 / duration_s;
  const floor = [nominal_Hz + away_Hz, nominal_Hz - away_Hz - (beside.steps - 1) * beside.step_Hz].flatMap((from_Hz) =>
    explainedSquares(at_s, counts, { from_Hz, ...beside }),
  );
  const usual_squares = medianOf(floor) / Math.LN2;
  const independent = tried * (2 * half_Hz * duration_s + 1);
  const seen_at_Hz = aliasOf(best.frequency_Hz, rate_Hz);
  const all = counts.reduce((sum, value) => sum + value * value, 0);
  const needed = usual_squares * Math.log(independent / BY_CHANCE);
  return {
    nominal_Hz,
    seen_at_Hz,
    amplitude_counts: amplitudeOf(best.squares, counts.length),
    visible_counts: amplitudeOf(needed, counts.length),
    significant: best.squares > Math.max(needed, seen_at_Hz < SLOW_HZ ? STRONG_SHARE * all : 0),
  };
}

/** The strongest line told from chance; null: none. */
export function strongest(lines: readonly MainsLine[]): MainsLine | null {
  return lines
    .filter(({ significant }) => significant)
    .reduce<MainsLine | null>(
      (best, line) => (line.amplitude_counts > (best?.amplitude_counts ?? 0) ? line : best),
      null,
    );
}

/** @param noise_counts standard deviation of one reading, whatever it comes from. */
export function examineMains(
  { lines, hidden_Hz }: MainsLines,
  residuals: Residuals,
  noise_counts: number,
  yardstick: Yardstick,
): Found {
  const { counts_per_N, d_counts } = yardstick;
  const hidden = hidden_Hz.join(" ");
  const unseen =
    hidden_Hz.length === 0 ? "" : `; ${either(hidden_Hz)} Hz cannot be told from a standing value at this rate`;
  const line = strongest(lines);
  if (line === null) {
    const visible_counts = lines.length === 0 ? null : Math.max(...lines.map((each) => each.visible_counts));
    const what =
      visible_counts === null
        ? `Mains pickup cannot be seen in these readings: ${either(hidden_Hz)} Hz look like a standing value at this rate.`
        : `Nothing at ${either(lines.map(({ nominal_Hz }) => nominal_Hz))} Hz above ${amount(visible_counts, counts_per_N)}${unseen}.`;
    return { level: "good", what, do: null, values: { amplitude_counts: null, visible_counts, hidden_Hz: hidden } };
  }
  const alike = lines.filter(
    ({ nominal_Hz }) =>
      Math.abs(aliasOf(nominal_Hz, residuals.rate_Hz) - line.seen_at_Hz) <
      2 * searchHalfWidth_Hz(nominal_Hz, residuals.duration_s),
  );
  const names = either(alike.length === 0 ? [line.nominal_Hz] : alike.map(({ nominal_Hz }) => nominal_Hz));
  const { amplitude_counts, seen_at_Hz, visible_counts } = line;
  const values = {
    amplitude_counts,
    amplitude_N: newtons(amplitude_counts, counts_per_N),
    frequency_Hz: names,
    seen_at_Hz,
    visible_counts,
    hidden_Hz: hidden,
  };
  const what = `A swing of ${inCounts(amplitude_counts)} either way${inForce(amplitude_counts, counts_per_N)} at ${names} Hz, seen at ${digits(seen_at_Hz)} Hz`;
  const other_counts = Math.sqrt(Math.max(0, noise_counts ** 2 - amplitude_counts ** 2 / 2));
  const disturbing = amplitude_counts >= DISTURBING_DIVISIONS * d_counts;
  if (!disturbing && amplitude_counts < other_counts) {
    return { level: "good", what: `${what}: weaker than the noise beside it${unseen}.`, do: null, values };
  }
  return {
    level: disturbing ? "fault" : "notice",
    what: `${what}: mains pickup${seen_at_Hz < SLOW_HZ ? ` or something that swings at ${digits(seen_at_Hz)} Hz` : ""}, ${disturbing ? "enough to disturb zero and calibration" : "more than all other noise, though the work can bear it"}${unseen}.`,
    do: "Use a shielded cable between cell and amplifier, its shield on the amplifier's ground at one end; keep it from mains cables, earth the machine's frame, and try another power supply.",
    values,
  };
}

const either = (frequencies: readonly number[]): string => {
  const names = [...frequencies].sort((a, b) => a - b).map(String);
  return names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} or ${names.at(-1)}`;
};

/** Which loads are hung in which order, and what the technician is told at each. Pure. */

export interface PlannedLoad {
  /** As a person says it: `20 kg`. */
  readonly said: string;
  /** As `calibration-check` takes it. */
  readonly request: {
    readonly mass_kg?: number;
    readonly force_N?: number;
    readonly relative_tolerance?: number;
    readonly at?: "handle" | "cell";
    readonly lever_angle_deg?: number;
  };
  /** Good enough to put loads in order. */
  readonly about_N: number;
}

export interface CheckStep {
  readonly instruction: string;
  /** Short, for a line of results. */
  readonly said: string;
  readonly request: PlannedLoad["request"];
  readonly loading: "increasing" | "decreasing";
  readonly series: number;
}

export interface Wanted {
  readonly loads: readonly PlannedLoad[];
  readonly series: number;
  /** Never down through the loads; the return to nothing is always read. */
  readonly up_only: boolean;
}

/** Nothing on, up through the loads, down again, nothing on; so many times. */
export function planOf({ loads, series, up_only }: Wanted): readonly CheckStep[] {
  const up = [...loads].sort((a, b) => a.about_N - b.about_N);
  const highest = up.at(-1);
  if (highest === undefined) return [];
  const first =
    `Hang ${highest.said} and take it off again, three times, so that everything settles. ` +
    "Then leave nothing on that is not always there.";
  return Array.from({ length: series }, (_, index) => index + 1).flatMap((number) => [
    nothing(number === 1 ? first : "Leave nothing on.", "increasing", number),
    ...up.map((load) => hung(load, "increasing", number)),
    ...(up_only ? [] : up.slice(0, -1).reverse()).map((load) => hung(load, "decreasing", number)),
    nothing("Take everything off, gently.", "decreasing", number),
  ]);
}

/** Nothing on and one known load: a minute in all. */
export const quickPlan = (load: PlannedLoad): readonly CheckStep[] => [
  nothing("Leave nothing on that is not always there.", "increasing", 1),
  hung(load, "increasing", 1),
];

const nothing = (instruction: string, loading: CheckStep["loading"], series: number): CheckStep => ({
  instruction,
  said: "nothing on",
  request: { force_N: 0 },
  loading,
  series,
});

function hung({ said, request }: PlannedLoad, loading: CheckStep["loading"], series: number): CheckStep {
  const instruction =
    loading === "increasing"
      ? `Hang ${said} in all. Let it down gently, never past where it comes to rest, then let go.`
      : `Take off what is more than ${said}, without putting anything on in between, then let go.`;
  return { instruction, said, request, loading, series };
}

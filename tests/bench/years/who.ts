/** The invented gym of the years: its stations, and those who are always there. The first station is theirs. */
export const STATIONS = [
  "leg-press",
  "knee-extension",
  "pull-down",
  "row",
  "chest-press",
  "leg-curl",
  "calf-raise",
  "hip-hinge",
  "shoulder-press",
  "back-extension",
  "arm-curl",
  "grip",
] as const;
export type Station = (typeof STATIONS)[number];

export const REGULARS = ["r-1", "r-2", "r-3", "r-4"] as const;
/** Others are numbered from here on. */
export const EARLIEST_TRAINEE = 100;

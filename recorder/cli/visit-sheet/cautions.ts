/** What somebody who takes the sheet home must know about it. Common practice, no source; licensed practice comes first. */
export const CAUTIONS: readonly string[] = [
  "This is a training record, not a medical finding; the equipment is not a medical device and not a legal weighing instrument.",
  "The stop at a chosen loss of strength is a training rule and not a safety limit: it cannot tell whether an effort is safe for you.",
  "Stop at sharp pain, chest pain, dizziness, headache or disturbed sight, and do not finish the repetition. If it stays, see a clinician; chest pain is an emergency.",
  "See a doctor at once about swelling, lasting weakness or dark urine in the days after a hard session.",
  "With heart or vessel disease, high blood pressure, recent surgery, eye disease, hernia or pregnancy ask a physician before hard efforts.",
  "A lower number is no reason to push into pain, and a higher one no reason to jerk. Numbers differ from day to day by themselves.",
  "Your trainer decides what comes next, and those who treat you come before both.",
];

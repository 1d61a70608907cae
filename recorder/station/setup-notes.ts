/** Setup notes as one text, so that equal notes are equal: a set is comparable only with those done on the same seat. Pure. */

/** Names sorted, as JSON; "" where there are no notes. */
export function setupText(notes: Readonly<Record<string, string>>): string {
  const named = Object.entries(notes).sort(([one], [other]) => (one < other ? -1 : 1));
  return named.length === 0 ? "" : JSON.stringify(Object.fromEntries(named));
}

/** The notes of such a text; none where it is no text of notes. */
export function setupNotesOf(text: string): Record<string, string> {
  try {
    const notes: unknown = JSON.parse(text === "" ? "{}" : text);
    if (typeof notes !== "object" || notes === null || Array.isArray(notes)) return {};
    return Object.fromEntries(
      Object.entries(notes).filter((note): note is [string, string] => typeof note[1] === "string"),
    );
  } catch {
    return {};
  }
}

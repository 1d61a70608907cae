/** The name a mistyped one was probably meant to be. */

/** A longer name is never a slip of the finger, and comparing one costs its square. */
const LONGEST = 60;

/**
 * The candidate nearest to `name` by edit distance (a swap of two neighbours is one edit), or null where none is near:
 * a third of the name's length is forgiven, and always one edit. Letter case costs nothing.
 */
export function closest(name: string, candidates: Iterable<string>): string | null {
  if (name.length > LONGEST) return null;
  let best: string | null = null;
  let fewest = Math.max(1, Math.floor(name.length / 3)) + 1;
  for (const candidate of candidates) {
    const edits = editDistance(name.toLowerCase(), candidate.toLowerCase());
    if (edits < fewest) {
      best = candidate;
      fewest = edits;
    }
  }
  return best;
}

/** Optimal string alignment: insertions, deletions, substitutions and swaps of neighbours, one each. */
function editDistance(a: string, b: string): number {
  let before: number[] = [];
  let previous = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const current = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let edits = Math.min(previous[j]! + 1, current[j - 1]! + 1, previous[j - 1]! + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) edits = Math.min(edits, before[j - 2]! + 1);
      current.push(edits);
    }
    before = previous;
    previous = current;
  }
  return previous[b.length]!;
}

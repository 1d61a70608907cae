/** One after the other: what a revision derives from the record must not be changed by the next one meanwhile. */
export type InTurn = <T>(work: () => Promise<T>) => Promise<T>;

export function takingTurns(): InTurn {
  let last: Promise<unknown> = Promise.resolve();
  return (work) => {
    const turn = last.then(work);
    last = turn.catch(() => {});
    return turn;
  };
}

/**
 * Whether the store's file is still the one that was opened. A file that was deleted or moved goes on taking writings for as
 * long as it is open, and all of them are gone with the process: SQLite cannot tell, and calls it how to corrupt a database
 * (https://www.sqlite.org/howtocorrupt.html, section 2.4, unlinking or renaming a file in use).
 */
import { statSync } from "node:fs";
import { StoreFailure } from "./failure.ts";

/** Of the file as it is now: a check to be made before each request, which throws a StoreFailure when it is another. */
export function watchFile(path: string): () => void {
  const watched = [path, `${path}-wal`].flatMap((name) => {
    const identity = identityOf(name);
    return identity === null ? [] : [{ name, identity }];
  });
  return () => {
    for (const { name, identity } of watched) {
      if (identityOf(name) !== identity) {
        throw new StoreFailure(
          "gone",
          `${name} was moved or deleted while in use; put it back, or restart the recorder`,
        );
      }
    }
  };
}

function identityOf(path: string): string | null {
  const file = statSync(path, { throwIfNoEntry: false });
  return file === undefined ? null : `${file.dev} ${file.ino}`;
}

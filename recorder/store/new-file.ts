/** Where a backup or an export may be made: at no name that somebody has, and at none that the store takes a meaning from. */
import { lstatSync, realpathSync } from "node:fs";
import { basename, dirname } from "node:path";

/**
 * What follows the store's name in files of its own. The next opening puts a `.restore` in the place of the store, and SQLite
 * writes over what goes by the name of its log.
 */
const OWN = /^(-.*|\.(restore|version-|damaged-|before-restore-|unkept-|spare).*)?$/s;

/** A sentence without its full stop; null: nothing is in the way. Throws what the system says of a folder that is not there. */
export function inTheWay(path: string, store_path: string): string | null {
  if (isThere(path)) return `${path} is there already, and nothing is written over`;
  // Not ours to remove, whatever left it there; and a pipe would be waited for.
  if (lstatSync(`${path}.partial`, { throwIfNoEntry: false })?.isFile() === false) {
    return `${path}.partial is there and is not a file`;
  }
  if (isTheStores(path, store_path)) return `${path} is a name that the store keeps for files of its own`;
  return null;
}

/** A link is, too, though it may lead nowhere today. */
const isThere = (path: string): boolean => lstatSync(path, { throwIfNoEntry: false }) !== undefined;

function isTheStores(path: string, store_path: string): boolean {
  const store = basename(store_path);
  const name = basename(path);
  if (!name.startsWith(store) || !OWN.test(name.slice(store.length))) return false;
  return realpathSync(dirname(path)) === realpathSync(dirname(store_path));
}

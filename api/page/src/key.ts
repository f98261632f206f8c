/** The API key, where the service asks for one: kept for this tab alone, asked for once. */

const PLACE = "layoutcheck key";

/** A key is wanted. refused: whether one was given and is not valid. */
export interface KeyWanted {
  refused: boolean;
  /** Takes a key; an empty one gives up. */
  give: (key: string) => void;
}

let show: (wanted: KeyWanted | null) => void = () => undefined;
let asking: Promise<void> | null = null;
let givenUp = false;

/** Have somebody asked when a key is wanted; null when no longer. */
export function watchKey(listener: (wanted: KeyWanted | null) => void): void {
  show = listener;
}

export function currentKey(): string {
  return sessionStorage.getItem(PLACE) ?? "";
}

/**
 * After a refusal of `used`: true once there is another key to try. Requests that are refused
 * together ask once.
 */
export async function anotherKey(used: string): Promise<boolean> {
  if (currentKey() !== used) return true;
  if (givenUp) return false;
  asking ??= new Promise((done) => {
    let given = false; // a dialog that closes after its answer tells so once more
    const give = (key: string): void => {
      if (given) return;
      given = true;
      givenUp = key === "";
      sessionStorage.setItem(PLACE, key);
      asking = null;
      show(null);
      done();
    };
    show({ refused: used !== "", give });
  });
  await asking;
  return !givenUp;
}

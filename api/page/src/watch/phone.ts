/** What a phone gives besides its screen: two clocks, sound, a shake, a screen that stays awake. */

import type { Stamp } from "./entries.ts";
import { randomDigits } from "./keep.ts";

const SESSION = randomDigits(8);

export const stampNow = (): Stamp => ({ wall: Date.now(), mono: performance.now(), session: SESSION });

/** Minutes that the clock on site is ahead of UTC. */
export const zoneNow = (): number => -new Date().getTimezoneOffset();

let sound: AudioContext | null = null;

/** A browser lets a page make a sound only after it was touched. */
export function allowSound(): void {
  try {
    sound ??= new AudioContext();
    void sound.resume();
  } catch {
    // A phone without sound still shakes and shows.
  }
}

/** Sound and shake: once for soon, three times for now, long for danger. */
export function signal(kind: "soon" | "now" | "danger"): void {
  const times = kind === "soon" ? 1 : kind === "now" ? 3 : 5;
  const long = kind === "danger" ? 0.4 : 0.18;
  navigator.vibrate?.(Array.from({ length: times * 2 - 1 }, () => long * 1000));
  if (!sound) return;
  for (let n = 0; n < times; n += 1) {
    const tone = sound.createOscillator();
    const level = sound.createGain();
    tone.frequency.value = kind === "danger" ? 1400 : 950;
    level.gain.value = 0.5;
    tone.connect(level).connect(sound.destination);
    const at = sound.currentTime + n * long * 2;
    tone.start(at);
    tone.stop(at + long);
  }
}

/** Keep the screen awake as long as the page is seen. */
export function stayAwake(): void {
  const ask = (): void => {
    if (document.visibilityState === "visible") navigator.wakeLock?.request("screen").catch(() => undefined);
  };
  document.addEventListener("visibilitychange", ask);
  ask();
}

/** Have the page kept on the phone, so that it opens without a network. True once it is. */
export async function keepPage(): Promise<boolean> {
  if (!("serviceWorker" in navigator)) return false;
  try {
    await navigator.serviceWorker.register(workerAddress() as string, { scope: "watch.html" });
    await navigator.serviceWorker.ready;
    void navigator.storage?.persist?.();
    return true;
  } catch {
    return false;
  }
}

interface Policies {
  createPolicy(name: string, rules: { createScriptURL: () => string }): { createScriptURL: (text: string) => unknown };
}

/** The one address that may become a script; the service lets this page make this rule alone. */
function workerAddress(): unknown {
  const policies = (globalThis as { trustedTypes?: Policies }).trustedTypes;
  if (!policies) return "watch-worker.js";
  return policies.createPolicy("watch-worker", { createScriptURL: () => "watch-worker.js" }).createScriptURL("");
}

/** Lengths as people write them. Whatever this can not read is left to the service, which reads all. */

export type System = "imperial" | "metric";

const INCH = 0.0254;
const FOOT = 12 * INCH;
const SIXTEENTHS = 16;

const NUMBER = String.raw`(\d+(?:\.\d+)?)(?:[\s-]+(\d+)\/(\d+))?|(\d+)\/(\d+)`;
const FEET_AND_INCHES = new RegExp(
  String.raw`^(?:(\d+(?:\.\d+)?)\s*(?:ft|feet|foot|'|′)[\s-]*)?(?:(?:${NUMBER})\s*(?:inches|inch|in|"|″))?$`,
  "i",
);
const METRIC = /^(\d+(?:\.\d+)?(?:e-?\d+)?)\s*(mm|cm|m)$/i;
const METRES: Record<string, number> = { mm: 0.001, cm: 0.01, m: 1 };

/** Read a length; null where it is not one this page knows. Returns m. */
export function parseLength(text: string): number | null {
  const plain = text.trim();
  const metric = METRIC.exec(plain);
  if (metric) return Number(metric[1]) * METRES[metric[2]!.toLowerCase()]!;
  const found = FEET_AND_INCHES.exec(plain);
  if (!found || plain === "") return null;
  const [, feet, whole, upper, lower, only, under] = found;
  const share = ratio(upper, lower) + ratio(only, under);
  const inches = Number(whole ?? 0) + share;
  return Number.isFinite(inches) ? Number(feet ?? 0) * FOOT + inches * INCH : null;
}

function ratio(upper: string | undefined, lower: string | undefined): number {
  return upper === undefined || lower === undefined ? 0 : Number(upper) / Number(lower);
}

/** Write a length (m) for people: feet and inches to a sixteenth, or metres to a millimetre. */
export function showLength(metres: number, system: System): string {
  if (system === "metric") return `${(Math.round(metres * 1000) / 1000).toFixed(3)} m`;
  const all = Math.round((metres / INCH) * SIXTEENTHS);
  const feet = Math.floor(all / (12 * SIXTEENTHS));
  const rest = all - feet * 12 * SIXTEENTHS;
  const inches = Math.floor(rest / SIXTEENTHS);
  const parts = feet ? [`${feet} ft`] : [];
  const part = fraction(rest % SIXTEENTHS);
  if (inches || part || !feet) parts.push(`${[inches || !part ? inches : "", part].filter((x) => x !== "").join(" ")} in`);
  return parts.join(" ");
}

function fraction(sixteenths: number): string {
  if (sixteenths === 0) return "";
  let [upper, lower] = [sixteenths, SIXTEENTHS];
  while (upper % 2 === 0) [upper, lower] = [upper / 2, lower / 2];
  return `${upper}/${lower}`;
}

/** The steps that a plug moves by, m: dragged, by an arrow key, by a page key. */
export function steps(system: System): { drag: number; small: number; large: number } {
  return system === "metric"
    ? { drag: 0.01, small: 0.02, large: 0.3 }
    : { drag: INCH / 2, small: INCH, large: FOOT };
}

/** A right example of a station, for messages. */
export function example(system: System): string {
  return system === "metric" ? "7.325 m" : "24 ft 6 1/2 in";
}

/** A measure's text without its second unit. */
export function plain(shown: string): string {
  return shown.split(" (")[0]!;
}

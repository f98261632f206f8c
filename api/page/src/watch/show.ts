/** Times and amounts as they stand on the screen. */

import { si } from "./entries.ts";
import type { Quantity } from "./entries.ts";
import { clockText, massIn } from "./log.ts";
import type { Plan } from "./plan.ts";

/** A moment as a watch shows it: 14:32:10. */
export const clock = (at: number, zone: number): string => clockText(at, zone).slice(11);

/** How long, for a countdown: 4:05, or 1:04:05. What is left is rounded up, so that 0:00 is over. */
export function span(ms: number): string {
  const all = Math.ceil(Math.abs(ms) / 1000 - 1e-9);
  const [hours, minutes, seconds] = [Math.floor(all / 3600), Math.floor(all / 60) % 60, all % 60];
  const two = (n: number): string => String(n).padStart(2, "0");
  return hours ? `${hours}:${two(minutes)}:${two(seconds)}` : `${minutes}:${two(seconds)}`;
}

/** How long, in words: 4 min 30 s. */
export function words(seconds: number): string {
  const all = Math.round(seconds);
  const parts = [
    [Math.floor(all / 3600), "h"],
    [Math.floor(all / 60) % 60, "min"],
    [all % 60, "s"],
  ] as const;
  return parts.filter(([n]) => n).map(([n, unit]) => `${n} ${unit}`).join(" ") || "0 s";
}

export const amount = ({ value, unit }: Quantity): string => `${value} ${unit}`;

export const mass = (units: Plan["units"], kg: number): string => amount(massIn(units, kg));

export interface Scale {
  unit: Quantity["unit"];
  least: number;
  most: number;
  step: number;
}

/** What a dial of each kind spans (own choices: what is met on site, in steps that a glove can hit). */
export function scaleOf(kind: "frost" | "cold" | "pressure", units: Plan["units"]): Scale {
  const metric = units === "metric";
  if (kind === "frost") return metric ? { unit: "mm", least: 0, most: 300, step: 5 } : { unit: "in", least: 0, most: 12, step: 0.25 };
  if (kind === "cold") return metric ? { unit: "degC", least: -60, most: 30, step: 1 } : { unit: "degF", least: -80, most: 80, step: 1 };
  return metric ? { unit: "kPa", least: 0, most: 1500, step: 10 } : { unit: "psi", least: 0, most: 200, step: 1 };
}

/** What a dial for what went in spans: up to twice what is planned. */
export function massScale(units: Plan["units"], kg: number): Scale {
  const planned = massIn(units, kg);
  const step = planned.unit === "kg" ? 0.05 : 0.1;
  return { unit: planned.unit, least: 0, most: Math.max(1, Math.ceil(planned.value * 2)), step };
}

export const kilograms = (q: Quantity): number => si(q);

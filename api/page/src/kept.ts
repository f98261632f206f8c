/** Judging while plugs are dragged: the service keeps the layout, and only its plugs are sent. */

import type { Layout } from "./layout";
import { Refusal, Silence, bodyOf, judge as judgeWhole, post } from "./service";
import type { Answer, Wish } from "./service";
import type { Report } from "./types";

// All that a glance gives; what takes the joint mending is left out, as there.
const PARTS = "verdict,findings,held,plugs,stretches,courses,flowing,assumptions,cautions";
const GONE = 404;

/** A layout that the service keeps, and the rest of what its request said. */
interface Kept {
  base: string;
  rest: string;
  layout: Layout;
}

let kept: Kept | null = null;
let last: Layout | null = null;
let asking = false;

/** Ask for the report alone; where the plugs alone differ from a layout that is kept, send them. */
export async function judge(wish: Wish, signal?: AbortSignal): Promise<Answer> {
  const { layout } = wish;
  const before = last;
  last = layout;
  if (kept && isSameSite(kept.layout, layout) && kept.rest === restOf(layout)) {
    const answer = await judgedByPlugs(kept.base, layout, signal);
    if (answer) return answer;
  } else if (!asking && before && isSameSite(before, layout)) {
    asking = true;
    void keep(layout).finally(() => (asking = false)); // for the next ones of this drag
  }
  return judgeWhole(wish, signal);
}

/** Tell whether two layouts differ in their plugs alone. Parts that an edit leaves are the same. */
function isSameSite(one: Layout, other: Layout): boolean {
  const names = new Set([...Object.keys(one), ...Object.keys(other)]);
  names.delete("plugs");
  return [...names].every((name) => one[name as keyof Layout] === other[name as keyof Layout]);
}

/** What a request says beside the layout: the day, where waivers need one. */
function restOf(layout: Layout): string {
  const { layout: _, ...rest } = JSON.parse(bodyOf({ waivers: layout.waivers } as Layout)) as Record<string, unknown>;
  return JSON.stringify(rest);
}

async function keep(layout: Layout): Promise<void> {
  try {
    const { base } = (await post("v1/bases", bodyOf(layout), "application/json")) as { base: string };
    kept = { base, rest: restOf(layout), layout };
  } catch (error) {
    if (!(error instanceof Refusal || error instanceof Silence)) throw error;
    kept = null; // it goes on with whole layouts
  }
}

async function judgedByPlugs(base: string, layout: Layout, signal?: AbortSignal): Promise<Answer | null> {
  const body = JSON.stringify({ merge: { plugs: layout.plugs ?? null } });
  try {
    const data = (await post(`v1/bases/${base}/checks?parts=${PARTS}`, body, "application/json", signal)) as Report;
    return { kind: "judged", report: { ...data, actions: [], mending: null }, drawing: null, blanks: null };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    if (error.problem.status !== GONE) return { kind: "refused", problem: error.problem };
    kept = null;
    return null;
  }
}

/** What has no screen, no clock and no store: in one place for its tests. */

export { gapBetween, correctionsOf } from "./clocks.ts";
export { standing } from "./course.ts";
export { idOf, merged, nextPlace } from "./entries.ts";
export { fold } from "./fold.ts";
export { logCsv, logJson, logOf } from "./log.ts";

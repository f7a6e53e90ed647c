// What an answer says now that it did not say before.

import { showPercent } from '../format/percent';
import type { Station } from '../generated/acts';

/** One sentence, or nothing when word and probability stayed. */
export function describeChange(before: Station | null, after: Station | null): string {
    if (!after) return '';
    const now = `${after.station} is ${after.verdict.word} (${showPercent(after.verdict.probability)})`;
    if (!before || before.station !== after.station) return `${now}.`;
    const was = before.verdict;
    if (was.word !== after.verdict.word) return `${now}; it was ${was.word} (${showPercent(was.probability)}).`;
    if (showPercent(was.probability) === showPercent(after.verdict.probability)) return '';
    return `${now}, before ${showPercent(was.probability)}.`;
}

export function describeArrival(added: number): string {
    if (added === 1) return 'One new entry arrived and is shown.';
    if (added > 1) return `${added} new entries arrived and are shown.`;
    return 'The job has changed and is shown as it is now.';
}

export interface PoseShift {
    east_mm: number;
    north_mm: number;
    plan_mm: number;
    height_mm: number | null;
    turn_arcsec: number;
}

/** How far the station's place differs between two answers; `unit_m` metres of one coordinate unit. */
export function poseShift(before: Station, after: Station, unit_m: number): PoseShift {
    const east_mm = (after.pose.east - before.pose.east) * unit_m * 1000;
    const north_mm = (after.pose.north - before.pose.north) * unit_m * 1000;
    const heights = [before.pose.height, after.pose.height];
    const turn = after.pose.orientation_deg - before.pose.orientation_deg;
    return {
        east_mm,
        north_mm,
        plan_mm: Math.hypot(east_mm, north_mm),
        height_mm:
            heights[0] == null || heights[1] == null ? null : (heights[1] - heights[0]) * unit_m * 1000,
        turn_arcsec: (((turn + 540) % 360) - 180) * 3600,
    };
}

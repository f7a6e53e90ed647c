// Where the moments of a job stand on its strip. Time runs to the right; long pauses are cut short
// so that a night does not push the day's work into a corner, and entries of one second stay apart.

export interface StripPlace {
    /** 0 to 1 along the strip. */
    at: number;
    /** A pause before this moment was cut short. */
    afterPause: boolean;
}

const kLeast_ms = 20_000;
const kMost_ms = 30 * 60_000;

export function stripPlaces(times_ms: readonly number[]): StripPlace[] {
    const out: StripPlace[] = [];
    let along = 0;
    times_ms.forEach((time, i) => {
        const before = times_ms[i - 1];
        const gap = before === undefined ? 0 : time - before;
        if (before !== undefined) along += Math.min(kMost_ms, Math.max(kLeast_ms, gap));
        out.push({ at: along, afterPause: gap > kMost_ms });
    });
    for (const place of out) place.at = along > 0 ? place.at / along : 1;
    return out;
}

/**
 * Which of the moments get their time written: never closer than `least` (0 to 1) to the last one,
 * and never the same text again.
 */
export function writtenTimes(places: readonly StripPlace[], texts: readonly string[], least: number): number[] {
    const out: number[] = [];
    let last = -Infinity;
    let lastText = '';
    places.forEach((place, i) => {
        const text = texts[i] ?? '';
        if (place.at - last >= least && text !== lastText) {
            out.push(i);
            last = place.at;
            lastText = text;
        }
    });
    return out;
}

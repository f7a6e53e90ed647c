// Puts the residuals of an answer and the sights as booked side by side.

import type { BookedSight, StationSight } from '../../generated/acts';

export interface SightRow {
    target: string;
    /** The booked sight behind it, where it is certain which one it is. */
    booked: BookedSight | null;
    answer: StationSight | null;
    /** The n-th pointing to this target; 0 where only the target is certain. */
    which: number;
}

/** Control and check sights in booked order, each with its residuals where they can be told apart. */
export function sightRows(booked: readonly BookedSight[], answered: readonly StationSight[]): SightRow[] {
    const own = booked.filter((b) => b.purpose === 'control' || b.purpose === 'check');
    const byTarget = new Map<string, StationSight[]>();
    for (const a of answered) byTarget.set(a.target, [...(byTarget.get(a.target) ?? []), a]);
    const countBooked = new Map<string, number>();
    for (const b of own) countBooked.set(b.target, (countBooked.get(b.target) ?? 0) + 1);
    const taken = new Map<string, number>();
    const rows: SightRow[] = own.map((b) => {
        const answers = byTarget.get(b.target) ?? [];
        const index = taken.get(b.target) ?? 0;
        taken.set(b.target, index + 1);
        // Two faces are put together as one: then the counts differ and nothing is guessed.
        const isCertain = answers.length === countBooked.get(b.target);
        return {
            target: b.target,
            booked: b,
            answer: isCertain ? (answers[index] ?? null) : null,
            which: b.which,
        };
    });
    for (const [target, answers] of byTarget) {
        if (answers.length === countBooked.get(target)) continue;
        for (const a of answers) rows.push({ target, booked: null, answer: a, which: 0 });
    }
    return rows;
}

/** The largest of the standardised residuals: beyond three something is odd. */
export function oddness(sight: StationSight): number | null {
    const { direction, zenith, distance } = sight.standardised;
    const known = [direction, zenith, distance].filter((s) => s !== null).map(Math.abs);
    return known.length > 0 ? Math.max(...known) : null;
}

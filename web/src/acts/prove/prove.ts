// What the tables of Prove show, in words and in the order in which it needs a hand.

import { showOffset, showSize, type Shown } from '../../format/length';
import type { OffMm, ProveAnswer, ProveMark, ProveMove, ProvePoint, ProveSetup } from '../../generated/acts';
import { clock, day } from '../../format/time';

const kOrder: Record<string, number> = { fails: 0, 'in doubt': 1, proven: 2 };

function byNeed(a: { word: string; probability: number | null }, b: { word: string; probability: number | null }): number {
    return (kOrder[a.word] ?? 3) - (kOrder[b.word] ?? 3) || (a.probability ?? 0) - (b.probability ?? 0);
}

export function pointsByNeed(answer: ProveAnswer): ProvePoint[] {
    return [...answer.points].sort(byNeed);
}

/** Marks that were sighted, what fails first; those that never were come last. */
export function marksByNeed(answer: ProveAnswer): ProveMark[] {
    return [...answer.marks].sort((a, b) => Number(b.sighted) - Number(a.sighted) || byNeed(a, b));
}

export function setupsByNeed(answer: ProveAnswer): ProveSetup[] {
    return [...answer.setups].sort((a, b) => Number(a.fits) - Number(b.fits));
}

/** Length and direction of a shift, with its spread: 12.0 mm ± 1.2 mm towards 045°. */
export function shiftWords(move: ProveMove, shown: Shown): string {
    const { shift, sd } = move;
    if (move.of === 'height') {
        if (shift.height_mm === null) return '–';
        return `${showOffset(shift.height_mm, shown)}${sd.height_mm === null ? '' : ` ± ${showSize(sd.height_mm, shown)}`}`;
    }
    const [e, n] = [shift.east_mm, shift.north_mm];
    if (e === null || n === null) return '–';
    const length = Math.hypot(e, n);
    const spread = alongSd(e, n, sd);
    const azimuth = Math.round(((Math.atan2(e, n) * 180) / Math.PI + 360) % 360) % 360;
    return `${showSize(length, shown)}${spread === null ? '' : ` ± ${showSize(spread, shown)}`} towards ${String(azimuth).padStart(3, '0')}°`;
}

/** The spread along the shift, from those along the axes. */
function alongSd(e: number, n: number, sd: OffMm): number | null {
    if (sd.east_mm === null || sd.north_mm === null) return null;
    const length = Math.hypot(e, n);
    if (length === 0) return Math.max(sd.east_mm, sd.north_mm);
    return Math.hypot((e / length) * sd.east_mm, (n / length) * sd.north_mm);
}

/** A time as day and clock; the name of a set-up as it is. */
function whenWords(text: string): string {
    return Number.isNaN(Date.parse(text)) || !/\d{4}-\d\d-\d\dT/.test(text) ? text : `${day(text)} ${clock(text)}`;
}

/** Between which sightings it moved. */
export function movedWhen(move: ProveMove): string {
    if (move.before_first_sight) return 'before it was sighted first, or the sheet is wrong';
    if (move.after && move.before) return `between ${whenWords(move.after)} and ${whenWords(move.before)}`;
    if (move.after) return `after ${whenWords(move.after)}`;
    return move.before ? `before ${whenWords(move.before)}` : 'not known';
}

/** What is worth a row of its own. */
export function likelyMoves(answer: ProveAnswer): ProveMove[] {
    return answer.moves.filter((m) => (m.probability ?? 0) >= 0.02);
}

export function listWords(names: readonly string[], most = 6): string {
    if (names.length === 0) return '–';
    if (names.length <= most) return names.join(', ');
    return `${names.slice(0, most).join(', ')} and ${names.length - most} more`;
}

export interface LikelyCause {
    probability: number;
    says: string;
    next: string;
    isWrong: boolean;
}

/** Explanations worth a line; the rest in one sum. */
export function likelyCauses(answer: ProveAnswer, least = 0.01, few = 8): { shown: LikelyCause[]; rest: number } {
    const shown = answer.causes
        .map((c) => ({ probability: c.probability ?? 0, says: c.says, next: c.next, isWrong: c.cause !== 'nothing-wrong' }))
        .filter((c, i) => c.probability >= least || i < 2)
        .slice(0, few);
    return { shown, rest: Math.max(0, 1 - shown.reduce((sum, c) => sum + c.probability, 0)) };
}

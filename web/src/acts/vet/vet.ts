// What the tables of Vet show, in the words of the trade and in the order in which it needs a hand.

import { showArcsec } from '../../format/angle';
import { showOffset, showSize, type Shown } from '../../format/length';
import type { VetAnswer, VetDifference, VetExplanation, VetFit, VetMark, VetMeasured, VetTrap } from '../../generated/acts';

const kTraps: Record<string, string> = {
    'mark-off': 'A mark is off in plan',
    'mark-height-off': 'A mark is off in height',
    'entry-wrong': 'A list has one mark wrong',
    'other-revision': 'Marks of another revision',
    'names-exchanged': 'Names of two marks exchanged',
    'duplicate-name': 'A name stands twice',
    'names-in-one-place': 'Two names in one place',
    'axes-exchanged': 'East and north exchanged',
    mirrored: 'A list is a mirror image',
    turned: 'A list is turned',
    shifted: 'A list is shifted',
    'wrong-unit': 'Metres for feet, or feet for metres',
    'foot-kind': 'US survey foot for international foot',
    'grid-for-ground': 'Grid lengths for ground lengths',
    'tape-wrong': 'A tape is wrong',
    'level-wrong': 'A level is wrong',
    'sight-wrong': 'A sight is off in plan',
    'sight-height-wrong': 'A rod height is wrong',
    'prism-constant-wrong': 'The prism constant is wrong',
};

/** The trap in words; a word that this page does not know yet is shown as it came. */
export function trapWords(trap: string): string {
    const known = kTraps[trap];
    if (known) return known;
    const text = trap.replaceAll('-', ' ');
    return text.charAt(0).toUpperCase() + text.slice(1);
}

export interface TrapGroups {
    seen: VetTrap[];
    weak: VetTrap[];
    unseen: VetTrap[];
    notHere: VetTrap[];
}

/** Each trap in the group of what it would show; within a group the more probable first. */
export function trapGroups(traps: readonly VetTrap[]): TrapGroups {
    const of = (sighting: VetTrap['sighting']) =>
        traps
            .filter((t) => t.sighting === sighting && t.trap !== 'nothing-wrong')
            .sort((a, b) => b.probability - a.probability);
    return { seen: of('seen'), weak: of('weak'), unseen: of('cannot be seen'), notHere: of('does not apply') };
}

/** From which size on the trap would certainly be found; empty where it has no size. */
export function foundFrom(trap: VetTrap, shown: Shown): string {
    if (trap.detectable_mm !== null) return `from ${showSize(trap.detectable_mm, shown)}`;
    if (trap.detectable_ppm !== null) return `from ${trap.detectable_ppm.toFixed(0)} ppm`;
    return '';
}

const kOrder: Record<string, number> = { fails: 0, 'in doubt': 1, proven: 2 };

/** Marks that fail first, then those in doubt; within a word the weakest first. */
export function marksByNeed(marks: readonly VetMark[]): VetMark[] {
    return [...marks].sort((a, b) => (kOrder[a.word] ?? 3) - (kOrder[b.word] ?? 3) || a.probability - b.probability);
}

/** What holds a mark: 2 lists, measured 4 times. */
export function evidenceWords(mark: VetMark): string {
    const lists = `${mark.lists} ${mark.lists === 1 ? 'list' : 'lists'}`;
    const { measured, measured_height: height } = mark;
    if (measured === 0 && height === 0) return `${lists}, nothing measured`;
    if (measured === height) return `${lists}, measured ${times(measured)}`;
    return `${lists}, measured ${times(measured)} in plan, ${height} in height`;
}

function times(n: number): string {
    if (n === 1) return 'once';
    return n === 2 ? 'twice' : `${n} times`;
}

/** The smallest shift of the mark that would have been found; of a height mark in height. */
export function foundShift(mark: VetMark, shown: Shown): string {
    const mm = mark.east === null ? mark.detectable_height_mm : mark.detectable_mm;
    return mm === null ? 'not held' : showSize(mm, shown);
}

/** What is worth a line of its own, and the probability of all that is left. */
export function likely(
    explanations: readonly VetExplanation[],
    least = 0.01,
    few = 8,
): { shown: VetExplanation[]; rest: number } {
    const shown = explanations.filter((e, i) => e.probability >= least || i < 2).slice(0, few);
    // What is not listed belongs to the rest: all of it sums to one.
    return { shown, rest: Math.max(0, 1 - shown.reduce((sum, e) => sum + e.probability, 0)) };
}

/** The misfit of one measurement, as an angle or a length. */
export function misfitWords(m: VetMeasured, shown: Shown): string {
    if (m.misfit_arcsec !== null) return showArcsec(m.misfit_arcsec);
    return m.misfit_mm === null ? '–' : showOffset(m.misfit_mm, shown);
}

/** What fits worst first. */
export function worstFirst(measured: readonly VetMeasured[]): VetMeasured[] {
    return [...measured].sort((a, b) => Math.abs(b.standardised ?? 0) - Math.abs(a.standardised ?? 0));
}

/** What differs most first, over east, north and height. */
export function largestFirst(differences: readonly VetDifference[]): VetDifference[] {
    const size = (d: VetDifference) => Math.hypot(d.east_mm ?? 0, d.north_mm ?? 0, d.height_mm ?? 0);
    return [...differences].sort((a, b) => size(b) - size(a));
}

/** How many marks have each word. */
export function countWords(answer: VetAnswer): { proven: number; doubt: number; fails: number } {
    const of = (word: string) => answer.marks.filter((m) => m.word === word).length;
    return { proven: of('proven'), doubt: of('in doubt'), fails: of('fails') };
}

/** Tolerances to choose from: sixteenths of an inch, or millimetres. In mm. */
export function toleranceSteps(shown: Shown): number[] {
    if (shown.show === 'm') return [2, 3, 5, 8, 10, 15, 20, 30];
    return [1, 2, 3, 4, 6, 8, 12, 16].map((sixteenths) => (sixteenths * 25.4) / 16);
}

/** How far the marks of a list stay off the first one when it is laid on it, and with the scale free. */
export function fitWords(fit: VetFit, shown: Shown): string {
    const size = (mm: number | null) => (mm === null ? '–' : showSize(mm, shown));
    return fit.free_scatter_mm === null ? size(fit.scatter_mm) : `${size(fit.scatter_mm)}, ${size(fit.free_scatter_mm)} with the scale free`;
}

/** Explanations of a scale that are worth a line, the likeliest first. */
export function likelyScales(fit: VetFit): VetFit['scales'] {
    return fit.scales.filter((s, i) => s.probability >= 0.02 || i === 0).slice(0, 5);
}

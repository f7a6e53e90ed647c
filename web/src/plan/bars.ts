// Scale bars: round lengths of handy width.

import { metresPer, smallInches, type Shown } from '../format/length';

export interface Bar {
    width_px: number;
    says: string;
}

/** The largest of 1, 2, 5 × 10^n that is not above the value. */
export function roundBelow(value: number): number {
    if (!(value > 0) || !Number.isFinite(value)) return 1;
    const power = 10 ** Math.floor(Math.log10(value) + 1e-12);
    const lead = value / power;
    return (lead >= 5 ? 5 : lead >= 2 ? 2 : 1) * power;
}

/** A bar on the plan, at most `most_px` wide. */
export function planBar(px_per_m: number, shown: Shown, most_px: number): Bar {
    const unit_m = shown.show === 'm' ? 1 : metresPer(shown.foot);
    const units = roundBelow(most_px / (px_per_m * unit_m));
    const name = shown.show === 'm' ? 'm' : shown.foot;
    return { width_px: units * unit_m * px_per_m, says: `${number(units)} ${name}` };
}

/** A bar for misfits and ellipses, which are drawn far larger than the plan. */
export function misfitBar(px_per_mm: number, shown: Shown, most_px: number): Bar {
    if (shown.show === 'm') {
        const mm = roundBelow(most_px / px_per_mm);
        return { width_px: mm * px_per_mm, says: `${number(mm)} mm` };
    }
    const foot_mm = metresPer(shown.foot) * 1000;
    if (shown.show === 'ft') {
        const feet = roundBelow(most_px / (px_per_mm * foot_mm));
        return { width_px: feet * foot_mm * px_per_mm, says: `${number(feet)} ${shown.foot}` };
    }
    // Halves of halves of an inch, as on a tape.
    let inches = 6;
    while (inches > 1 / 64 && inches * 25.4 * px_per_mm > most_px) inches /= 2;
    return { width_px: inches * 25.4 * px_per_mm, says: smallInches(inches / 12, 64) };
}

/**
 * Pixels per millimetre that draw the largest misfit at most `most_px` long, in steps of √2, so that
 * a small change of an answer does not draw everything anew at another scale.
 */
export function misfitScale(largest_mm: number, most_px: number): number {
    if (!(largest_mm > 0)) return 10;
    const wanted = most_px / Math.max(largest_mm, 0.5);
    return 2 ** (Math.floor(2 * Math.log2(wanted) + 1e-9) / 2);
}

function number(value: number): string {
    return String(Number(value.toPrecision(6)));
}

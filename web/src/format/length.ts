// Lengths as crews read them. Every text carries its unit. Metres and millimetres come from the
// answers; coordinates come in the unit of the job.

import { signed } from './angle';

export type JobUnit = 'm' | 'ft' | 'us-ft';
export type LengthShow = 'm' | 'ft' | 'ft-in';

export interface Shown {
    show: LengthShow;
    /** Which foot: that of the job, the international one where the job has none. */
    foot: 'ft' | 'us-ft';
}

export function metresPer(unit: JobUnit): number {
    if (unit === 'ft') return 0.3048;
    if (unit === 'us-ft') return 1200 / 3937;
    return 1;
}

/** The way lengths are shown when nobody chose: the unit of the job. */
export function shownFor(jobUnit: JobUnit | null, choice: LengthShow | null): Shown {
    const foot = jobUnit === 'us-ft' ? 'us-ft' : 'ft';
    return { show: choice ?? (jobUnit === null || jobUnit === 'm' ? 'm' : 'ft'), foot };
}

/** 12'-3 1/2": to the nearest 1/denominator inch, fraction in lowest terms, carried into inches and feet. */
export function feetInches(feet: number, denominator = 16): string {
    const ticks = Math.round(Math.abs(feet) * 12 * denominator);
    const wholeFeet = Math.floor(ticks / (12 * denominator));
    const rest = ticks - wholeFeet * 12 * denominator;
    // 6'-0 1/2", not 6'-1/2": the zero keeps the hyphen from being read as a sign.
    const zero = rest > 0 && rest < denominator ? '0 ' : '';
    return `${feet < 0 && ticks > 0 ? '−' : ''}${wholeFeet}'-${zero}${inchText(rest, denominator)}"`;
}

/** 3/16 in, 5 1/2 in; what rounds to nothing is said to be under the smallest step. */
export function smallInches(feet: number, denominator = 32): string {
    const ticks = Math.round(Math.abs(feet) * 12 * denominator);
    if (ticks === 0) return feet === 0 ? '0 in' : `< 1/${denominator} in`;
    if (ticks >= 12 * denominator) return feetInches(feet, denominator);
    return `${feet < 0 ? '−' : ''}${inchText(ticks, denominator)} in`;
}

function inchText(ticks: number, denominator: number): string {
    const whole = Math.floor(ticks / denominator);
    let top = ticks % denominator;
    if (top === 0) return String(whole);
    let bottom = denominator;
    while (top % 2 === 0) {
        top /= 2;
        bottom /= 2;
    }
    return whole === 0 ? `${top}/${bottom}` : `${whole} ${top}/${bottom}`;
}

/** A length such as a distance or a rod. */
export function showLength(metres: number, shown: Shown): string {
    if (shown.show === 'm') return `${plain(metres, 3)} m`;
    const feet = metres / metresPer(shown.foot);
    if (shown.show === 'ft-in') return shown.foot === 'us-ft' ? `${feetInches(feet)} us-ft` : feetInches(feet);
    return `${plain(feet, 3)} ${shown.foot}`;
}

/** A small difference with its sign: misfits, deviations, residuals. */
export function showOffset(mm: number, shown: Shown): string {
    if (shown.show === 'm') return `${signed(mm.toFixed(1))} mm`;
    const feet = mm / 1000 / metresPer(shown.foot);
    if (shown.show === 'ft') return `${signed(feet.toFixed(3))} ${shown.foot}`;
    const text = smallInches(feet);
    return /^\d/.test(text) && feet > 0 ? `+${text}` : text;
}

/** The same without a sign: spreads, tolerances, sizes. */
export function showSize(mm: number, shown: Shown): string {
    return showOffset(Math.abs(mm), shown).replace(/^[+−]/, '');
}

/** A coordinate of the job. Feet stay decimal: a coordinate in inches helps nobody. */
export function showCoordinate(value: number, jobUnit: JobUnit | null, shown: Shown): string {
    const metres = value * metresPer(jobUnit ?? 'm');
    if (shown.show === 'm') return `${plain(metres, 3)} m`;
    return `${plain(metres / metresPer(shown.foot), 3)} ${shown.foot}`;
}

function plain(value: number, decimals: number): string {
    const text = value.toFixed(decimals);
    return Number(text) === 0 ? text.replace('-', '') : text.replace('-', '−');
}

// The error ellipse of a place from its covariance in the plane.

export interface Ellipse {
    /** Half axes in millimetres, azimuth of the long one in radians. */
    major_mm: number;
    minor_mm: number;
    azimuth_rad: number;
}

/** Holds the true place in 95 of 100 cases: √χ²(0.95, 2) = √5.991 half axes. */
const kHolds95 = Math.sqrt(5.991464547107979);

export function ellipse95(covariance: readonly (readonly (number | null)[])[]): Ellipse | null {
    const ee = covariance[0]?.[0];
    const en = covariance[0]?.[1];
    const nn = covariance[1]?.[1];
    if (ee == null || en == null || nn == null) return null;
    const mean = (ee + nn) / 2;
    const spread = Math.hypot((ee - nn) / 2, en);
    if (!(mean + spread > 0)) return null;
    return {
        major_mm: Math.sqrt(mean + spread) * 1000 * kHolds95,
        minor_mm: Math.sqrt(Math.max(0, mean - spread)) * 1000 * kHolds95,
        azimuth_rad: 0.5 * Math.atan2(2 * en, nn - ee),
    };
}

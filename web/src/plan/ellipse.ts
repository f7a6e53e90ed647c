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

/** The same from the spread along the axes, where nothing is said of how they hang together. */
export function axisEllipse95(sd_east_mm: number | null, sd_north_mm: number | null): Ellipse | null {
    if (sd_east_mm === null || sd_north_mm === null) return null;
    const [e, n] = [kHolds95 * sd_east_mm, kHolds95 * sd_north_mm];
    return e > n ? { major_mm: e, minor_mm: n, azimuth_rad: Math.PI / 2 } : { major_mm: n, minor_mm: e, azimuth_rad: 0 };
}

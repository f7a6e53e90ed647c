// From the site to the screen and back: north is up, one scale both ways. Everything is reckoned
// from the middle of the site, so that coordinates of two million feet lose nothing.

export interface Extent {
    west: number;
    south: number;
    east: number;
    north: number;
}

/** pixel x = (east − east0)·scale + x0, pixel y = y0 − (north − north0)·scale. */
export interface Frame {
    east0: number;
    north0: number;
    scale: number;
    x0: number;
    y0: number;
}

export interface Size {
    width: number;
    height: number;
}

export function extentOf(points: Iterable<readonly [number, number]>): Extent | null {
    let extent: Extent | null = null;
    for (const [e, n] of points) {
        if (!Number.isFinite(e) || !Number.isFinite(n)) continue;
        extent ??= { west: e, south: n, east: e, north: n };
        extent.west = Math.min(extent.west, e);
        extent.east = Math.max(extent.east, e);
        extent.south = Math.min(extent.south, n);
        extent.north = Math.max(extent.north, n);
    }
    return extent;
}

/** Pixels kept free of the site on each side, for buttons and bars. */
export interface Margins {
    left: number;
    top: number;
    right: number;
    bottom: number;
}

/** The frame that shows the whole extent inside the margins. A single place gets `least` units of width. */
export function fitFrame(extent: Extent, size: Size, margins: Margins, least = 10): Frame {
    const width = Math.max(extent.east - extent.west, least);
    const height = Math.max(extent.north - extent.south, least);
    const room = {
        width: Math.max(size.width - margins.left - margins.right, 20),
        height: Math.max(size.height - margins.top - margins.bottom, 20),
    };
    return {
        east0: (extent.east + extent.west) / 2,
        north0: (extent.north + extent.south) / 2,
        scale: Math.min(room.width / width, room.height / height),
        x0: (size.width + margins.left - margins.right) / 2,
        y0: (size.height + margins.top - margins.bottom) / 2,
    };
}

/** A pan and zoom (pixel' = k·pixel + shift) put on top of a frame. */
export function moved(frame: Frame, k: number, x: number, y: number): Frame {
    return { ...frame, scale: frame.scale * k, x0: frame.x0 * k + x, y0: frame.y0 * k + y };
}

export function toPixel(frame: Frame, east: number, north: number): [number, number] {
    return [(east - frame.east0) * frame.scale + frame.x0, frame.y0 - (north - frame.north0) * frame.scale];
}

export function toSite(frame: Frame, x: number, y: number): [number, number] {
    return [(x - frame.x0) / frame.scale + frame.east0, (frame.y0 - y) / frame.scale + frame.north0];
}

/** What part of the site a screen of this size shows. */
export function seen(frame: Frame, size: Size): Extent {
    const [west, north] = toSite(frame, 0, 0);
    const [east, south] = toSite(frame, size.width, size.height);
    return { west, south, east, north };
}

/** What turns a picture drawn in one frame into the place it has in another. */
export function between(drawn: Frame, now: Frame): { k: number; x: number; y: number } {
    const k = now.scale / drawn.scale;
    return { k, x: now.x0 - drawn.x0 * k, y: now.y0 - drawn.y0 * k };
}

// The map of what can be proven from where, what stands in the way, and the walk between set-ups.

import { toPixel } from './frame';
import type { Drawing } from './drawing';
import type { Heat, SceneReach } from './scene';

/** How dark each shade is; the contours between them carry the same without colour. */
const kAlpha = [0, 0, 0.08, 0.17, 0.28, 0.4, 0.52];

export function drawReach(reach: SceneReach, d: Drawing): void {
    if (reach.heat) drawHeat(reach.heat, d);
    drawContours(reach, d);
    drawNoGo(reach, d);
    drawObstacles(reach, d);
    drawWalk(reach, d);
}

const pictures = new WeakMap<Heat, { colour: string; picture: HTMLCanvasElement }>();

/** One pixel for each place, drawn once. */
function pictureOf(heat: Heat, colour: string): HTMLCanvasElement | null {
    const known = pictures.get(heat);
    if (known?.colour === colour) return known.picture;
    const picture = document.createElement('canvas');
    picture.width = heat.columns;
    picture.height = heat.rows;
    const ctx = picture.getContext('2d');
    if (!ctx) return null;
    ctx.fillStyle = colour;
    heat.level.forEach((level, i) => {
        if (level < 2) return;
        ctx.globalAlpha = kAlpha[level] ?? 0.5;
        ctx.fillRect(i % heat.columns, heat.rows - 1 - Math.floor(i / heat.columns), 1, 1);
    });
    pictures.set(heat, { colour, picture });
    return picture;
}

function drawHeat(heat: Heat, d: Drawing): void {
    const picture = pictureOf(heat, d.ink.proven);
    if (!picture) return;
    const side = heat.step * d.frame.scale;
    const [x, y] = toPixel(d.frame, heat.west - heat.step / 2, heat.south + (heat.rows - 0.5) * heat.step);
    d.ctx.imageSmoothingEnabled = false;
    d.ctx.drawImage(picture, x, y, heat.columns * side, heat.rows * side);
}

function drawContours(reach: SceneReach, d: Drawing): void {
    const { ctx, frame, ink } = d;
    ctx.beginPath();
    for (const [e1, n1, e2, n2] of reach.contours) {
        const [x1, y1] = toPixel(frame, e1, n1);
        const [x2, y2] = toPixel(frame, e2, n2);
        ctx.moveTo(x1, y1);
        ctx.lineTo(x2, y2);
    }
    ctx.strokeStyle = ink.proven;
    ctx.lineWidth = 0.7 * ink.weight;
    ctx.globalAlpha = 0.6;
    ctx.stroke();
    ctx.globalAlpha = 1;
}

function outline(path: readonly (readonly [number, number])[], d: Drawing): void {
    path.forEach(([e, n], i) => {
        const [x, y] = toPixel(d.frame, e, n);
        if (i === 0) d.ctx.moveTo(x, y);
        else d.ctx.lineTo(x, y);
    });
    d.ctx.closePath();
}

function drawObstacles(reach: SceneReach, d: Drawing): void {
    const { ctx, frame, ink } = d;
    ctx.beginPath();
    for (const o of reach.obstacles) {
        if (o.radius !== null && o.east !== null && o.north !== null) {
            const [x, y] = toPixel(frame, o.east, o.north);
            const r = Math.max(1.5, o.radius * frame.scale);
            ctx.moveTo(x + r, y);
            ctx.arc(x, y, r, 0, 2 * Math.PI);
        } else {
            outline(o.corners, d);
        }
    }
    ctx.fillStyle = ink.muted;
    ctx.fill();
    ctx.strokeStyle = ink.text;
    ctx.lineWidth = ink.weight;
    ctx.stroke();
}

function drawNoGo(reach: SceneReach, d: Drawing): void {
    const { ctx, ink } = d;
    for (const area of reach.noGo) {
        ctx.save();
        ctx.beginPath();
        outline(area, d);
        ctx.strokeStyle = ink.fails;
        ctx.lineWidth = 1.6 * ink.weight;
        ctx.setLineDash([7, 4]);
        ctx.stroke();
        ctx.setLineDash([]);
        // Hatched: an area is told from an obstacle without colour.
        ctx.clip();
        const pixels = area.map(([e, n]) => toPixel(d.frame, e, n));
        const [left, right] = [Math.min(...pixels.map((p) => p[0])), Math.max(...pixels.map((p) => p[0]))];
        const [top, bottom] = [Math.min(...pixels.map((p) => p[1])), Math.max(...pixels.map((p) => p[1]))];
        const high = bottom - top;
        ctx.beginPath();
        const from = Math.max(left - high, -d.size.height - d.size.width);
        const to = Math.min(right, 2 * d.size.width);
        for (let x = from; x < to; x += 10) {
            ctx.moveTo(x, bottom);
            ctx.lineTo(x + high, top);
        }
        ctx.lineWidth = 0.8 * ink.weight;
        ctx.stroke();
        ctx.restore();
    }
}

function drawWalk(reach: SceneReach, d: Drawing): void {
    const { ctx, frame, ink } = d;
    ctx.beginPath();
    reach.walk.forEach(([e, n], i) => {
        const [x, y] = toPixel(frame, e, n);
        if (i === 0) ctx.moveTo(x, y);
        else ctx.lineTo(x, y);
    });
    ctx.strokeStyle = ink.text;
    ctx.lineWidth = 1.4 * ink.weight;
    ctx.setLineDash([3, 5]);
    ctx.stroke();
    ctx.setLineDash([]);
}

/** The tripod that is tried, on top of everything, with its sights to the marks. */
export function drawTripod(
    ctx: CanvasRenderingContext2D,
    d: Pick<Drawing, 'frame' | 'ink'>,
    at: { east: number; north: number },
    sights: readonly (readonly [number, number])[],
    isFree: boolean,
): void {
    const { ink, frame } = d;
    const [x, y] = toPixel(frame, at.east, at.north);
    ctx.beginPath();
    for (const [e, n] of sights) {
        const [mx, my] = toPixel(frame, e, n);
        ctx.moveTo(x, y);
        ctx.lineTo(mx, my);
    }
    ctx.strokeStyle = ink.chosen;
    ctx.lineWidth = 1.4 * ink.weight;
    ctx.stroke();
    ctx.beginPath();
    ctx.arc(x, y, 17, 0, 2 * Math.PI);
    ctx.fillStyle = ink.paper;
    ctx.fill();
    ctx.strokeStyle = isFree ? ink.chosen : ink.fails;
    ctx.lineWidth = 3.2 * ink.weight;
    ctx.stroke();
    ctx.beginPath();
    // Three legs and a head; crossed out where nobody can stand.
    for (const [dx, dy] of [[-8, 9], [0, 10], [8, 9]] as const) {
        ctx.moveTo(x, y - 7);
        ctx.lineTo(x + dx, y + dy);
    }
    if (!isFree) {
        ctx.moveTo(x - 12, y + 12);
        ctx.lineTo(x + 12, y - 12);
    }
    ctx.lineWidth = 2.2 * ink.weight;
    ctx.stroke();
}

/** What is being drawn by hand. */
export function drawCorners(ctx: CanvasRenderingContext2D, d: Pick<Drawing, 'frame' | 'ink'>, corners: readonly (readonly [number, number])[]): void {
    const { ink, frame } = d;
    ctx.strokeStyle = ink.chosen;
    ctx.fillStyle = ink.chosen;
    ctx.lineWidth = 2.4 * ink.weight;
    ctx.beginPath();
    corners.forEach(([e, n], i) => {
        const [x, y] = toPixel(frame, e, n);
        if (i === 0) ctx.moveTo(x, y);
        else ctx.lineTo(x, y);
    });
    ctx.stroke();
    for (const [e, n] of corners) {
        const [x, y] = toPixel(frame, e, n);
        ctx.fillRect(x - 4, y - 4, 8, 8);
    }
}

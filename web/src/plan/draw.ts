// Draws a scene in a frame. Knows nothing of events; the caller clears nothing and keeps nothing.

import { Cells, detailFor, LabelRoom, spacing, type Detail } from './detail';
import type { Ellipse } from './ellipse';
import { toPixel, type Frame, type Size } from './frame';
import { drawReach } from './draw_reach';
import type { Drawing } from './drawing';
import type { Scene, WordCode } from './scene';
import { drawArrow, drawJudgedMark, drawMark, drawStation, kJudged_px } from './symbols';

const kDot_px = 2;
const kBubble_px = 12;
/** Names beyond this many help nobody and cost time. */
const kMostLabels = 400;

export function detailOf(scene: Scene, frame: Frame): Detail {
    if (!scene.extent) return detailFor(Infinity);
    const { west, east, south, north } = scene.extent;
    return detailFor(spacing(scene.pointNames.length, east - west, north - south) * frame.scale);
}

export function drawScene(scene: Scene, d: Drawing): void {
    const { ctx, size, ink } = d;
    ctx.setTransform(d.ratio, 0, 0, d.ratio, 0, 0);
    ctx.fillStyle = ink.paper;
    ctx.fillRect(0, 0, size.width, size.height);
    ctx.font = `13px ${ink.font}`;
    ctx.textBaseline = 'middle';
    const detail = detailOf(scene, d.frame);
    const room = new LabelRoom(size);

    if (scene.reach) drawReach(scene.reach, d);
    blockPlaces(scene, d.frame, room);
    drawGrid(scene, d, room);
    drawSights(scene, d);
    drawEllipses(scene, d);
    drawPoints(scene, d, detail);
    drawMisfits(scene, d);
    for (const m of scene.marks) {
        const [x, y] = toPixel(d.frame, m.east, m.north);
        if (!inside(x, y, size, 20)) continue;
        if (m.word !== null) drawJudgedMark(ctx, x, y, m.word, ink);
        else drawMark(ctx, x, y, m.isMoved || m.isUsed === false, ink);
    }
    for (const s of scene.stations) {
        const [x, y] = toPixel(d.frame, s.east, s.north);
        if (!inside(x, y, size, 20)) continue;
        drawStation(ctx, x, y, s.isChosen, ink);
    }
    drawLabels(scene, d, detail, room);
}

function blockPlaces(scene: Scene, frame: Frame, room: LabelRoom): void {
    for (const place of [...scene.marks, ...scene.stations]) {
        const [x, y] = toPixel(frame, place.east, place.north);
        room.block(x - 9, y - 9, 18, 16);
    }
}

function inside(x: number, y: number, size: Size, rim: number): boolean {
    return x >= -rim && y >= -rim && x <= size.width + rim && y <= size.height + rim;
}

function drawGrid(scene: Scene, d: Drawing, room: LabelRoom): void {
    const { ctx, ink, frame, size } = d;
    if (scene.grid.length === 0) return;
    ctx.strokeStyle = ink.line;
    ctx.lineWidth = 0.8 * ink.weight;
    ctx.setLineDash([12, 3, 2, 3]);
    ctx.beginPath();
    for (const line of scene.grid) {
        line.path.forEach(([e, n], i) => {
            const [x, y] = toPixel(frame, e, n);
            if (i === 0) ctx.moveTo(x, y);
            else ctx.lineTo(x, y);
        });
    }
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.textAlign = 'center';
    const radius = size.width < 500 ? 0.8 * kBubble_px : kBubble_px;
    ctx.font = `${Math.round(1.08 * radius)}px ${ink.font}`;
    for (const line of scene.grid) {
        const [at, next] = [line.path[0], line.path[1]];
        if (!at || !next) continue;
        const [x1, y1] = toPixel(frame, at[0], at[1]);
        const [x2, y2] = toPixel(frame, next[0], next[1]);
        const length = Math.hypot(x2 - x1, y2 - y1) || 1;
        const width = Math.max(radius, ctx.measureText(line.name).width / 2 + 5);
        // A bubble in the way of a mark moves outwards along its line; neighbours may almost touch.
        const place = (steps: number): [number, number] => [
            x1 - (steps * radius * (x2 - x1)) / length,
            y1 - (steps * radius * (y2 - y1)) / length,
        ];
        const free = [1, 2.5, 4].find((steps) => {
            const [x, y] = place(steps);
            return room.claim(x - width + 3, y - radius + 3, 2 * width - 6, 2 * radius - 6);
        });
        if (free === undefined) continue;
        const [x, y] = place(free);
        ctx.beginPath();
        ctx.moveTo(x1, y1);
        ctx.lineTo(x, y);
        ctx.strokeStyle = ink.line;
        ctx.lineWidth = 0.8 * ink.weight;
        ctx.stroke();
        ctx.beginPath();
        ctx.ellipse(x, y, width, radius, 0, 0, 2 * Math.PI);
        ctx.fillStyle = ink.paper;
        ctx.fill();
        ctx.strokeStyle = ink.muted;
        ctx.lineWidth = ink.weight;
        ctx.stroke();
        ctx.fillStyle = ink.text;
        ctx.fillText(line.name, x, y + 0.5);
    }
}

function drawSights(scene: Scene, d: Drawing): void {
    const { ctx, ink, frame } = d;
    for (const kind of ['control', 'check', 'aside'] as const) {
        ctx.beginPath();
        for (const s of scene.sights) {
            if (s.kind !== kind) continue;
            // Checks run beside the control sights, not on them.
            const shift = kind === 'check' ? 3 : kind === 'aside' ? -3 : 0;
            const [x1, y1] = toPixel(frame, s.from[0], s.from[1]);
            const [x2, y2] = toPixel(frame, s.to[0], s.to[1]);
            const length = Math.hypot(x2 - x1, y2 - y1) || 1;
            const ox = (-(y2 - y1) / length) * shift;
            const oy = ((x2 - x1) / length) * shift;
            ctx.moveTo(x1 + ox, y1 + oy);
            ctx.lineTo(x2 + ox, y2 + oy);
        }
        ctx.strokeStyle = kind === 'aside' ? ink.misfit : ink.line;
        ctx.lineWidth = 1.2 * ink.weight;
        ctx.setLineDash(kind === 'control' ? [] : kind === 'check' ? [2, 4] : [8, 6]);
        ctx.stroke();
    }
    ctx.setLineDash([]);
}

function drawEllipses(scene: Scene, d: Drawing): void {
    for (const s of scene.stations) {
        if (s.ellipse) drawEllipse(d, ...toPixel(d.frame, s.east, s.north), s.ellipse);
    }
}

function drawEllipse(d: Drawing, x: number, y: number, ellipse: Ellipse): void {
    const { ctx, ink } = d;
    ctx.beginPath();
    ctx.ellipse(
        x,
        y,
        ellipse.major_mm * d.px_per_mm,
        ellipse.minor_mm * d.px_per_mm,
        ellipse.azimuth_rad - Math.PI / 2,
        0,
        2 * Math.PI,
    );
    ctx.globalAlpha = 0.14;
    ctx.fillStyle = ink.ellipse;
    ctx.fill();
    ctx.globalAlpha = 1;
    ctx.strokeStyle = ink.ellipse;
    ctx.lineWidth = 1.3 * ink.weight;
    ctx.stroke();
}

function drawPoints(scene: Scene, d: Drawing, detail: Detail): void {
    const { ctx, frame, size, ratio, ink } = d;
    const { pointEast, pointNorth, pointWord, order } = scene;
    // Whole device pixels: copying is then a plain copy.
    ctx.setTransform(1, 0, 0, 1, 0, 0);
    const cells = detail.cell_px > 0 ? new Cells(size, detail.cell_px) : null;
    const sprites = ([0, 1, 2, 3] as WordCode[]).map((w) => d.sprites.get(w, detail.radius_px, ratio, ink));
    const isDot = detail.radius_px <= kDot_px;
    const colours = [ink.muted, ink.proven, ink.doubt, ink.fails];
    const rim = detail.radius_px + 2;
    let lastWord = -1;
    // From the most to the least important when cells are shared, the other way round when not.
    const n = order.length;
    for (let k = 0; k < n; k++) {
        const i = order[cells ? n - 1 - k : k] ?? 0;
        const x = ((pointEast[i] ?? 0) - frame.east0) * frame.scale + frame.x0;
        const y = frame.y0 - ((pointNorth[i] ?? 0) - frame.north0) * frame.scale;
        if (x < -rim || y < -rim || x > size.width + rim || y > size.height + rim) continue;
        if (cells && !cells.take(x, y)) continue;
        const word = pointWord[i] ?? 0;
        if (isDot) {
            if (word !== lastWord) {
                ctx.fillStyle = colours[word] ?? ink.muted;
                lastWord = word;
            }
            // Words stay apart by size too: what is wrong is the larger square.
            const side = Math.round((word >= 2 ? 5 : word === 1 ? 3 : 2) * ratio);
            ctx.fillRect(Math.round(x * ratio - side / 2), Math.round(y * ratio - side / 2), side, side);
        } else {
            const sprite = sprites[word];
            if (!sprite) continue;
            ctx.drawImage(sprite.picture, Math.round(x * ratio) - sprite.half, Math.round(y * ratio) - sprite.half);
        }
    }
    ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
}

function drawMisfits(scene: Scene, d: Drawing): void {
    for (const m of scene.misfits) {
        const [x, y] = toPixel(d.frame, m.east, m.north);
        if (!inside(x, y, d.size, 150)) continue;
        const [tipX, tipY] = [x + m.off_east_mm * d.px_per_mm, y - m.off_north_mm * d.px_per_mm];
        if (m.ellipse) drawEllipse(d, tipX, tipY, m.ellipse);
        drawArrow(d.ctx, x, y, tipX, tipY, d.ink);
    }
}

function drawLabels(scene: Scene, d: Drawing, detail: Detail, room: LabelRoom): void {
    const { ctx, ink, frame, size } = d;
    ctx.textAlign = 'left';
    let written = 0;
    const write = (name: string, x: number, y: number, radius: number, strong: boolean, must: boolean) => {
        if (written >= kMostLabels || !inside(x, y, size, 0)) return;
        ctx.font = `${strong ? '600 14px' : '12px'} ${ink.font}`;
        const text = name.length > 24 ? `${name.slice(0, 23)}…` : name;
        const width = ctx.measureText(text).width;
        const high = strong ? 16 : 13;
        const places: [number, number][] = [
            [x + radius + 3, y - high / 2],
            [x - radius - 3 - width, y - high / 2],
            [x - width / 2, y - radius - 3 - high],
            [x - width / 2, y + radius + 3],
        ];
        const free = places.find(([left, top]) => room.claim(left, top, width, high));
        const [left, top] = free ?? (must ? (places[0] ?? [x, y]) : [NaN, NaN]);
        if (Number.isNaN(left)) return;
        ctx.lineWidth = 3;
        ctx.strokeStyle = ink.paper;
        ctx.lineJoin = 'round';
        ctx.strokeText(text, left, top + high / 2);
        ctx.fillStyle = strong ? ink.text : ink.muted;
        ctx.fillText(text, left, top + high / 2);
        written += 1;
    };
    for (const s of scene.stations) {
        const [x, y] = toPixel(frame, s.east, s.north);
        write(s.name, x, y, 11, true, s.isChosen);
    }
    for (const m of scene.marks) {
        const [x, y] = toPixel(frame, m.east, m.north);
        write(m.name, x, y, m.word === null ? 10 : kJudged_px, true, scene.marks.length < 60);
    }
    if (!detail.labels) return;
    for (let k = scene.order.length - 1; k >= 0 && written < kMostLabels; k--) {
        const i = scene.order[k] ?? 0;
        const [x, y] = toPixel(frame, scene.pointEast[i] ?? NaN, scene.pointNorth[i] ?? NaN);
        if (inside(x, y, size, 0)) write(scene.pointNames[i] ?? '', x, y, detail.radius_px, false, false);
    }
}

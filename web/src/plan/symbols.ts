// The shapes of the plan. A verdict has a shape of its own: proven is a full disc, in doubt a disc
// half full, fails a crossed square, to lay a small ring. The same shapes stand in the printed plan.

import type { Palette } from './palette';
import { kFails, kInDoubt, kProven, type WordCode } from './scene';

type Ctx = CanvasRenderingContext2D;

export function drawPoint(ctx: Ctx, x: number, y: number, word: WordCode, r: number, ink: Palette): void {
    const thin = Math.min(1.8, Math.max(0.8, 0.3 * r)) * ink.weight;
    ctx.lineWidth = thin;
    if (word === kProven) {
        ctx.fillStyle = ink.proven;
        disc(ctx, x, y, r);
        ctx.fill();
    } else if (word === kInDoubt) {
        ctx.fillStyle = ink.paper;
        disc(ctx, x, y, r);
        ctx.fill();
        ctx.fillStyle = ink.doubt;
        ctx.beginPath();
        ctx.arc(x, y, r, 0, Math.PI);
        ctx.closePath();
        ctx.fill();
        ctx.strokeStyle = ink.doubt;
        disc(ctx, x, y, r);
        ctx.stroke();
    } else if (word === kFails) {
        const s = r * 1.05;
        ctx.fillStyle = ink.paper;
        ctx.strokeStyle = ink.fails;
        ctx.lineWidth = thin + 0.4;
        ctx.fillRect(x - s, y - s, 2 * s, 2 * s);
        ctx.strokeRect(x - s, y - s, 2 * s, 2 * s);
        ctx.beginPath();
        ctx.moveTo(x - s, y - s);
        ctx.lineTo(x + s, y + s);
        ctx.moveTo(x - s, y + s);
        ctx.lineTo(x + s, y - s);
        ctx.stroke();
    } else {
        ctx.fillStyle = ink.paper;
        ctx.strokeStyle = ink.muted;
        disc(ctx, x, y, 0.75 * r);
        ctx.fill();
        ctx.stroke();
    }
}

function disc(ctx: Ctx, x: number, y: number, r: number): void {
    ctx.beginPath();
    ctx.arc(x, y, r, 0, 2 * Math.PI);
}

/** A triangle with a dot; crossed out when the mark is not used. */
export function drawMark(ctx: Ctx, x: number, y: number, isOut: boolean, ink: Palette, r = 9): void {
    ctx.beginPath();
    ctx.moveTo(x, y - r);
    ctx.lineTo(x + 0.87 * r, y + 0.5 * r);
    ctx.lineTo(x - 0.87 * r, y + 0.5 * r);
    ctx.closePath();
    ctx.fillStyle = ink.paper;
    ctx.fill();
    ctx.lineWidth = 1.8 * ink.weight;
    ctx.strokeStyle = isOut ? ink.muted : ink.text;
    ctx.stroke();
    if (isOut) {
        ctx.strokeStyle = ink.text;
        ctx.beginPath();
        ctx.moveTo(x - 1.25 * r, y + 0.55 * r);
        ctx.lineTo(x + 1.25 * r, y - 0.8 * r);
        ctx.stroke();
    } else {
        ctx.fillStyle = ink.text;
        disc(ctx, x, y, 1.8);
        ctx.fill();
    }
}

/** How far a judged mark reaches from its place. */
export const kJudged_px = 14;

/** A larger triangle with the shape of its verdict in it. */
export function drawJudgedMark(ctx: Ctx, x: number, y: number, word: WordCode, ink: Palette): void {
    drawMark(ctx, x, y, false, ink, kJudged_px);
    drawPoint(ctx, x, y, word, 5, ink);
}

/** A ring with four ticks; full rim when it is the station the page is about. */
export function drawStation(ctx: Ctx, x: number, y: number, isChosen: boolean, ink: Palette, r = 9): void {
    ctx.lineWidth = (isChosen ? 2.4 : 1.5) * ink.weight;
    ctx.strokeStyle = isChosen ? ink.text : ink.muted;
    ctx.fillStyle = ink.paper;
    disc(ctx, x, y, r - 2.5);
    ctx.fill();
    ctx.stroke();
    ctx.beginPath();
    for (const [dx, dy] of [[0, -1], [1, 0], [0, 1], [-1, 0]] as const) {
        ctx.moveTo(x + dx * (r - 2.5), y + dy * (r - 2.5));
        ctx.lineTo(x + dx * (r + 2.5), y + dy * (r + 2.5));
    }
    ctx.stroke();
    ctx.fillStyle = ctx.strokeStyle;
    disc(ctx, x, y, 1.8);
    ctx.fill();
}

export function drawArrow(ctx: Ctx, x1: number, y1: number, x2: number, y2: number, ink: Palette): void {
    const length = Math.hypot(x2 - x1, y2 - y1);
    if (length < 1) return;
    const ux = (x2 - x1) / length;
    const uy = (y2 - y1) / length;
    const head = Math.min(9, 0.6 * length);
    ctx.strokeStyle = ink.misfit;
    ctx.fillStyle = ink.misfit;
    ctx.lineWidth = 2.2 * ink.weight;
    ctx.beginPath();
    ctx.moveTo(x1, y1);
    ctx.lineTo(x2 - 0.8 * head * ux, y2 - 0.8 * head * uy);
    ctx.stroke();
    ctx.beginPath();
    ctx.moveTo(x2, y2);
    ctx.lineTo(x2 - head * ux - 0.42 * head * uy, y2 - head * uy + 0.42 * head * ux);
    ctx.lineTo(x2 - head * ux + 0.42 * head * uy, y2 - head * uy - 0.42 * head * ux);
    ctx.closePath();
    ctx.fill();
}

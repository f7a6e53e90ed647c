// Paints the plan each frame. A small job is drawn anew every time. A large one is drawn into a
// picture somewhat larger than the screen, which is then moved and stretched while fingers or wheel
// are at work; the sharp drawing follows when they rest.

import { drawScene } from './draw';
import { between, moved, type Frame, type Size } from './frame';
import type { Palette } from './palette';
import type { Scene } from './scene';
import { Sprites } from './sprites';

/** Shapes up to which every frame is drawn anew. */
const kSmall = 1500;
/** The picture overlaps the screen by this share on every side. */
const kOverlap = 0.25;
const kMostStretch = 2.5;

export interface Look {
    frame: Frame;
    size: Size;
    ratio: number;
    ink: Palette;
    px_per_mm: number;
}

export class Painter {
    private readonly sprites = new Sprites();
    private picture: HTMLCanvasElement | null = null;
    private drawn: { frame: Frame; scene: Scene; look: Look } | null = null;

    /** Whether the last painting was a stretched picture that wants to be drawn sharp. */
    wantsSharp = false;

    paint(canvas: HTMLCanvasElement, scene: Scene, look: Look, isMoving: boolean): void {
        const ctx = canvas.getContext('2d', { alpha: false });
        if (!ctx) return;
        if (scene.count <= kSmall) {
            this.wantsSharp = false;
            drawScene(scene, { ctx, ...look, sprites: this.sprites });
            return;
        }
        if (!isMoving || !this.covers(scene, look)) this.drawPicture(scene, look);
        this.copy(ctx, look);
        this.wantsSharp = this.drawn !== null && this.drawn.frame !== look.frame;
    }

    private covers(scene: Scene, look: Look): boolean {
        const drawn = this.drawn;
        if (!drawn || drawn.scene !== scene || drawn.look.ink !== look.ink) return false;
        if (drawn.look.size.width !== look.size.width || drawn.look.size.height !== look.size.height) return false;
        const { k, x, y } = between(drawn.frame, look.frame);
        if (k > kMostStretch || k < 1 / kMostStretch) return false;
        // Bare rims are fine as long as more than half the screen is still covered.
        const left = x - kOverlap * look.size.width * k;
        const top = y - kOverlap * look.size.height * k;
        const width = Math.min(look.size.width, left + (1 + 2 * kOverlap) * look.size.width * k) - Math.max(0, left);
        const height = Math.min(look.size.height, top + (1 + 2 * kOverlap) * look.size.height * k) - Math.max(0, top);
        return width > 0.7 * look.size.width && height > 0.7 * look.size.height;
    }

    private drawPicture(scene: Scene, look: Look): void {
        const size = {
            width: Math.ceil(look.size.width * (1 + 2 * kOverlap)),
            height: Math.ceil(look.size.height * (1 + 2 * kOverlap)),
        };
        this.picture ??= document.createElement('canvas');
        const wide = Math.round(size.width * look.ratio);
        const high = Math.round(size.height * look.ratio);
        if (this.picture.width !== wide || this.picture.height !== high) {
            this.picture.width = wide;
            this.picture.height = high;
        }
        const ctx = this.picture.getContext('2d', { alpha: false });
        if (!ctx) return;
        const frame = moved(look.frame, 1, kOverlap * look.size.width, kOverlap * look.size.height);
        drawScene(scene, { ctx, ...look, frame, size, sprites: this.sprites });
        this.drawn = { frame: look.frame, scene, look };
    }

    private copy(ctx: CanvasRenderingContext2D, look: Look): void {
        if (!this.drawn || !this.picture) return;
        const { k, x, y } = between(this.drawn.frame, look.frame);
        const r = look.ratio;
        ctx.setTransform(1, 0, 0, 1, 0, 0);
        const left = (x - kOverlap * look.size.width * k) * r;
        const top = (y - kOverlap * look.size.height * k) * r;
        if (k === 1) {
            ctx.fillStyle = look.ink.paper;
            ctx.fillRect(0, 0, look.size.width * r, look.size.height * r);
            ctx.drawImage(this.picture, Math.round(left), Math.round(top));
            return;
        }
        ctx.imageSmoothingEnabled = false;
        ctx.fillStyle = look.ink.paper;
        ctx.fillRect(0, 0, look.size.width * r, look.size.height * r);
        ctx.drawImage(this.picture, left, top, this.picture.width * k, this.picture.height * k);
    }
}

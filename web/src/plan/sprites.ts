// Small pictures of each verdict's symbol, made once per size and theme: thousands of points are
// then copies instead of paths.

import type { Palette } from './palette';
import type { WordCode } from './scene';
import { drawPoint } from './symbols';

export class Sprites {
    private readonly pictures = new Map<string, HTMLCanvasElement>();
    private ink: Palette | null = null;

    /** The picture and half its width in device pixels. */
    get(word: WordCode, radius_px: number, ratio: number, ink: Palette): { picture: HTMLCanvasElement; half: number } {
        if (ink !== this.ink) {
            this.pictures.clear();
            this.ink = ink;
        }
        const radius = Math.round(radius_px * 2) / 2;
        const half = Math.ceil((radius * 1.05 + 1.5) * ratio);
        const key = `${word} ${radius} ${ratio}`;
        let picture = this.pictures.get(key);
        if (!picture) {
            picture = document.createElement('canvas');
            picture.width = 2 * half;
            picture.height = 2 * half;
            const ctx = picture.getContext('2d');
            if (ctx) {
                ctx.translate(half, half);
                ctx.scale(ratio, ratio);
                drawPoint(ctx, 0, 0, word, radius, ink);
            }
            this.pictures.set(key, picture);
        }
        return { picture, half };
    }
}

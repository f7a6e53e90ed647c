// What drawing needs to know beside the scene.

import type { Frame, Size } from './frame';
import type { Palette } from './palette';
import type { Sprites } from './sprites';

export interface Drawing {
    ctx: CanvasRenderingContext2D;
    size: Size;
    frame: Frame;
    ratio: number;
    ink: Palette;
    sprites: Sprites;
    px_per_mm: number;
}

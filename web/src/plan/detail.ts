// How much of each point is drawn: a dot when many share a few pixels, its symbol when there is
// room, its name when there is more.

import type { Size } from './frame';

export interface Detail {
    radius_px: number;
    /** Below this many pixels apart only one of several points is drawn; 0: all are. */
    cell_px: number;
    labels: boolean;
}

const kLeastRadius_px = 1.5;
const kMostRadius_px = 6.5;

/** Mean distance between points that fill their extent evenly, in site units. */
export function spacing(count: number, width: number, height: number): number {
    if (count < 2) return Infinity;
    const area = Math.max(width, 1e-9) * Math.max(height, 1e-9);
    const line = Math.max(width, height) / (count - 1);
    return Math.max(Math.sqrt(area / count), Math.min(line, Math.sqrt(area)));
}

export function detailFor(spacing_px: number): Detail {
    const radius_px = Math.min(kMostRadius_px, Math.max(kLeastRadius_px, spacing_px * 0.28));
    return {
        radius_px,
        cell_px: spacing_px < 4 ? 2 : 0,
        labels: spacing_px >= 34,
    };
}

/** One bit of memory per cell of the screen: has something been drawn here? */
export class Cells {
    private readonly taken: Uint8Array;
    private readonly columns: number;
    private readonly rows: number;
    private readonly cell_px: number;

    constructor(size: Size, cell_px: number) {
        this.cell_px = cell_px;
        this.columns = Math.ceil(size.width / cell_px) + 1;
        this.rows = Math.ceil(size.height / cell_px) + 1;
        this.taken = new Uint8Array(this.columns * this.rows);
    }

    /** True the first time a cell is asked for. */
    take(x: number, y: number): boolean {
        const column = Math.floor(x / this.cell_px);
        const row = Math.floor(y / this.cell_px);
        if (column < 0 || row < 0 || column >= this.columns || row >= this.rows) return false;
        const index = row * this.columns + column;
        if (this.taken[index]) return false;
        this.taken[index] = 1;
        return true;
    }
}

/** Room for names: a name is written only where no earlier one lies. Blocks are 8 px squares. */
export class LabelRoom {
    private readonly taken: Uint8Array;
    private readonly columns: number;
    private readonly rows: number;

    constructor(size: Size) {
        this.columns = Math.ceil(size.width / 8);
        this.rows = Math.ceil(size.height / 8);
        this.taken = new Uint8Array(this.columns * this.rows);
    }

    private each(x: number, y: number, width: number, height: number, visit: (index: number) => boolean): boolean {
        const left = Math.floor(x / 8);
        const right = Math.floor((x + width) / 8);
        const top = Math.floor(y / 8);
        const bottom = Math.floor((y + height) / 8);
        if (left < 0 || top < 0 || right >= this.columns || bottom >= this.rows) return false;
        for (let row = top; row <= bottom; row++) {
            for (let column = left; column <= right; column++) {
                if (!visit(row * this.columns + column)) return false;
            }
        }
        return true;
    }

    block(x: number, y: number, width: number, height: number): void {
        const clampedX = Math.max(0, x);
        const clampedY = Math.max(0, y);
        this.each(
            clampedX,
            clampedY,
            Math.min(width, this.columns * 8 - 1 - clampedX),
            Math.min(height, this.rows * 8 - 1 - clampedY),
            (index) => {
                this.taken[index] = 1;
                return true;
            },
        );
    }

    /** True when the box is free and inside; then it is taken. */
    claim(x: number, y: number, width: number, height: number): boolean {
        if (!this.each(x, y, width, height, (index) => this.taken[index] === 0)) return false;
        this.block(x, y, width, height);
        return true;
    }
}

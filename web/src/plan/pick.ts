// What lies under a finger: the nearest thing within reach, marks and stations before points.

import Flatbush from 'flatbush';
import type { Thing, ThingKind } from '../state/selection.svelte';
import { toPixel, type Frame } from './frame';
import type { Scene } from './scene';

interface Item {
    kind: ThingKind;
    name: string;
    east: number;
    north: number;
}

/** A point must be this much nearer than a mark or station to be taken instead. */
const kFavour_px = 6;

export class Picker {
    private readonly items: Item[] = [];
    private readonly index: Flatbush | null;
    private readonly east0: number;
    private readonly north0: number;

    constructor(scene: Scene) {
        for (const s of scene.stations) this.items.push({ kind: 'station', name: s.name, east: s.east, north: s.north });
        for (const m of scene.marks) this.items.push({ kind: 'mark', name: m.name, east: m.east, north: m.north });
        scene.pointNames.forEach((name, i) => {
            this.items.push({ kind: 'point', name, east: scene.pointEast[i] ?? NaN, north: scene.pointNorth[i] ?? NaN });
        });
        const finite = this.items.filter((i) => Number.isFinite(i.east) && Number.isFinite(i.north));
        this.items = finite;
        this.east0 = finite[0]?.east ?? 0;
        this.north0 = finite[0]?.north ?? 0;
        this.index = finite.length > 0 ? new Flatbush(finite.length) : null;
        if (this.index) {
            for (const i of finite) this.index.add(i.east - this.east0, i.north - this.north0);
            this.index.finish();
        }
    }

    /** The thing at a pixel, or nothing within `reach_px`. */
    at(frame: Frame, x: number, y: number, reach_px: number): Thing | null {
        const item = this.nearest(frame, x, y, reach_px);
        return item ? { kind: item.kind, name: item.name } : null;
    }

    find(thing: Thing): { east: number; north: number } | null {
        return this.items.find((i) => i.kind === thing.kind && i.name === thing.name) ?? null;
    }

    /** The thing after (or before) another, for those who step through them by key. */
    step(from: Thing | null, by: 1 | -1): Thing | null {
        if (this.items.length === 0) return null;
        const at = from ? this.items.findIndex((i) => i.kind === from.kind && i.name === from.name) : -1;
        const next = at < 0 ? (by > 0 ? 0 : this.items.length - 1) : (at + by + this.items.length) % this.items.length;
        const item = this.items[next];
        return item ? { kind: item.kind, name: item.name } : null;
    }

    private nearest(frame: Frame, x: number, y: number, reach_px: number): Item | null {
        if (!this.index) return null;
        const east = (x - frame.x0) / frame.scale + (frame.east0 - this.east0);
        const north = (frame.y0 - y) / frame.scale + (frame.north0 - this.north0);
        let best: Item | null = null;
        let bestReach = Infinity;
        for (const index of this.index.neighbors(east, north, 12, reach_px / frame.scale)) {
            const item = this.items[index];
            if (!item) continue;
            const [px, py] = toPixel(frame, item.east, item.north);
            const distance = Math.hypot(px - x, py - y) - (item.kind === 'point' ? 0 : kFavour_px);
            if (distance < bestReach) {
                best = item;
                bestReach = distance;
            }
        }
        return best;
    }
}

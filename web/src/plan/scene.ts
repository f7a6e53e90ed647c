// What there is to draw, as plain arrays: made once for each answer, drawn many times.

import type { PlanAnswer, SheetAnswer } from '../generated/acts';
import type { Ellipse } from './ellipse';
import { extentOf, type Extent } from './frame';

/** Order of drawing: what matters most comes last and lies on top. */
export const kToLay = 0;
export const kProven = 1;
export const kInDoubt = 2;
export const kFails = 3;
export type WordCode = 0 | 1 | 2 | 3;

export interface ScenePlace {
    name: string;
    east: number;
    north: number;
}

export interface SceneMark extends ScenePlace {
    isMoved: boolean;
    isUsed: boolean | null;
    /** Of the mark itself, where control is judged. */
    word: WordCode | null;
}

export interface SceneStation extends ScenePlace {
    isChosen: boolean;
    ellipse: Ellipse | null;
}

export interface SceneSight {
    from: [number, number];
    to: [number, number];
    kind: 'control' | 'check' | 'aside';
}

export interface SceneMisfit {
    east: number;
    north: number;
    off_east_mm: number;
    off_north_mm: number;
    /** Holds the tip in 95 of 100 cases. */
    ellipse?: Ellipse | null;
}

/** How much can be proven from where, as shades on a raster of places. */
export interface Heat {
    west: number;
    south: number;
    step: number;
    columns: number;
    rows: number;
    /** By column within rows from the south: 0 nobody can stand there, 1 to 6 by share. */
    level: Uint8Array;
}

/** What planning shows under the rest. */
export interface SceneReach {
    heat: Heat | null;
    contours: [number, number, number, number][];
    obstacles: PlanAnswer['obstacles'];
    noGo: PlanAnswer['no_go'];
    /** From set-up to set-up, in order. */
    walk: [number, number][];
}

export interface Scene {
    reach: SceneReach | null;
    marks: SceneMark[];
    stations: SceneStation[];
    sights: SceneSight[];
    misfits: SceneMisfit[];
    grid: { name: string; path: [number, number][] }[];
    pointNames: string[];
    pointEast: Float64Array;
    pointNorth: Float64Array;
    pointWord: Uint8Array;
    /** Points in the order they are drawn. */
    order: Uint32Array;
    extent: Extent | null;
    /** The largest misfit or half axis there is. */
    largest_mm: number;
    count: number;
}

export function wordCode(word: string | null | undefined): WordCode {
    if (word === 'proven') return kProven;
    if (word === 'in doubt') return kInDoubt;
    if (word === 'fails') return kFails;
    return kToLay;
}

/** What a view adds to the marks, points and grid lines of the sheet. */
export interface SceneOfView {
    stations: SceneStation[];
    reach?: SceneReach | null;
    sights?: SceneSight[];
    misfits?: SceneMisfit[];
    /** Which marks the set-up shown uses. */
    usedMarks?: Map<string, boolean>;
    markWords?: Map<string, WordCode>;
    pointWords?: Map<string, WordCode>;
}

export type Places = Map<string, [number, number]>;

export function placesOf(sheet: SheetAnswer): Places {
    const places: Places = new Map();
    for (const p of sheet.points) places.set(p.point, [p.east, p.north]);
    for (const m of sheet.marks) if (m.east !== null && m.north !== null) places.set(m.mark, [m.east, m.north]);
    return places;
}

/** The set-ups of the sheet. A pose in `better` counts before the sheet's own, one in `other` where it has none. */
export function stationsOf(sheet: SheetAnswer, chosen: string | null, better: Poses = new Map(), other: Poses = new Map()): SceneStation[] {
    const out: SceneStation[] = [];
    for (const s of sheet.stations) {
        const pose = better.get(s.station) ?? s.pose ?? other.get(s.station);
        if (!pose) continue;
        out.push({ name: s.station, east: pose.east, north: pose.north, isChosen: s.station === chosen, ellipse: null });
    }
    return out;
}
export type Poses = Map<string, { east: number; north: number }>;

/** Arrows from places that are known. */
export function misfitsOf(places: Places, offs: Iterable<readonly [name: string, east_mm: number | null, north_mm: number | null]>): SceneMisfit[] {
    const out: SceneMisfit[] = [];
    for (const [name, east_mm, north_mm] of offs) {
        const at = places.get(name);
        if (at && east_mm !== null && north_mm !== null) out.push({ east: at[0], north: at[1], off_east_mm: east_mm, off_north_mm: north_mm });
    }
    return out;
}

export function wordsOfPoints(points: readonly { point: string; word: string | null }[]): Map<string, WordCode> {
    return new Map(points.map((p) => [p.point, wordCode(p.word)]));
}

export function buildScene(sheet: SheetAnswer, view: SceneOfView): Scene {
    const marks: SceneMark[] = [];
    for (const m of sheet.marks) {
        if (m.east === null || m.north === null) continue;
        marks.push({
            name: m.mark,
            east: m.east,
            north: m.north,
            isMoved: m.is_moved,
            isUsed: view.usedMarks?.get(m.mark) ?? null,
            word: view.markWords?.get(m.mark) ?? null,
        });
    }
    const { stations } = view;
    const misfits = view.misfits ?? [];
    const count = sheet.points.length;
    const scene: Scene = {
        reach: view.reach ?? null,
        marks,
        stations,
        sights: view.sights ?? [],
        misfits,
        grid: sheet.grid.map((g) => ({ name: g.line, path: g.path })),
        pointNames: sheet.points.map((p) => p.point),
        pointEast: Float64Array.from(sheet.points, (p) => p.east),
        pointNorth: Float64Array.from(sheet.points, (p) => p.north),
        pointWord: Uint8Array.from(sheet.points, (p) => view.pointWords?.get(p.point) ?? kToLay),
        order: new Uint32Array(count),
        extent: null,
        largest_mm: 0,
        count: count + marks.length + stations.length,
    };
    const indices = Array.from({ length: count }, (_, i) => i);
    indices.sort((a, b) => (scene.pointWord[a] ?? 0) - (scene.pointWord[b] ?? 0));
    scene.order.set(indices);
    scene.extent = extentOf(everyPlace(scene));
    for (const m of misfits) {
        const tip = m.ellipse?.major_mm ?? 0;
        scene.largest_mm = Math.max(scene.largest_mm, Math.hypot(m.off_east_mm, m.off_north_mm) + tip);
    }
    for (const s of stations) if (s.ellipse) scene.largest_mm = Math.max(scene.largest_mm, s.ellipse.major_mm);
    return scene;
}

function* everyPlace(scene: Scene): Generator<readonly [number, number]> {
    for (const m of scene.marks) yield [m.east, m.north];
    for (const s of scene.stations) yield [s.east, s.north];
    for (let i = 0; i < scene.pointNames.length; i++) yield [scene.pointEast[i] ?? NaN, scene.pointNorth[i] ?? NaN];
    for (const o of scene.reach?.obstacles ?? []) yield* o.corners;
    for (const g of scene.grid) for (const p of g.path) yield p;
}

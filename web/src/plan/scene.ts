// What there is to draw, as plain arrays: made once for each answer, drawn many times.

import type { LayAnswer, PlaceAnswer, PlanAnswer, ProveAnswer, SheetAnswer, SightsAnswer, Station, VetAnswer, WatchStation } from '../generated/acts';
import { contours, heatOf, wordsFrom, wordsOf, type Heat } from './reach';
import { axisEllipse95, ellipse95, type Ellipse } from './ellipse';
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

export interface SceneParts {
    sheet: SheetAnswer;
    station: string | null;
    answer: Station | null;
    sights: SightsAnswer | null;
    lay: LayAnswer | null;
    watch: WatchStation | null;
    vet?: VetAnswer | null;
    prove?: ProveAnswer | null;
    plan?: PlanAnswer | null;
    /** The answer for the tripod that is tried. */
    here?: PlaceAnswer | null;
    unit_m: number;
}

export function buildScene(parts: SceneParts): Scene {
    const { sheet } = parts;
    const places = new Map<string, [number, number]>();
    for (const p of sheet.points) places.set(p.point, [p.east, p.north]);
    for (const m of sheet.marks) if (m.east !== null && m.north !== null) places.set(m.mark, [m.east, m.north]);

    const used = new Map(parts.answer?.marks.map((m) => [m.mark, m.used]) ?? []);
    const judged = new Map(
        (parts.vet?.marks ?? parts.prove?.marks.filter((m) => m.sighted) ?? []).map((m) => [m.mark, wordCode(m.word)]),
    );
    const marks: SceneMark[] = [];
    for (const m of sheet.marks) {
        if (m.east === null || m.north === null) continue;
        marks.push({
            name: m.mark,
            east: m.east,
            north: m.north,
            isMoved: m.is_moved,
            isUsed: used.get(m.mark) ?? null,
            word: judged.get(m.mark) ?? null,
        });
    }

    const reach = parts.plan ? sceneReach(parts.plan) : null;
    const stations = parts.plan ? plannedStations(parts.plan) : sceneStations(parts);
    const misfits = sceneMisfits(parts, places);
    const sights = parts.vet ? measuredLines(parts.vet, places, stations) : sceneSights(parts, places, stations);

    const count = sheet.points.length;
    const words = pointWords(parts);
    const scene: Scene = {
        reach,
        marks,
        stations,
        sights,
        misfits,
        grid: sheet.grid.map((g) => ({ name: g.line, path: g.path })),
        pointNames: sheet.points.map((p) => p.point),
        pointEast: Float64Array.from(sheet.points, (p) => p.east),
        pointNorth: Float64Array.from(sheet.points, (p) => p.north),
        pointWord: Uint8Array.from(sheet.points, (p) => words.get(p.point) ?? kToLay),
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

function plannedStations(plan: PlanAnswer): SceneStation[] {
    return plan.setups.map((s) => ({ name: s.setup, east: s.east, north: s.north, isChosen: true, ellipse: null }));
}

function sceneReach(plan: PlanAnswer): SceneReach {
    const heat = heatOf(plan);
    return {
        heat,
        contours: heat ? contours(heat) : [],
        obstacles: plan.obstacles,
        noGo: plan.no_go,
        walk: plan.setups.map((s) => [s.east, s.north]),
    };
}

function sceneStations(parts: SceneParts): SceneStation[] {
    const out: SceneStation[] = [];
    for (const s of parts.sheet.stations) {
        const isChosen = s.station === parts.station;
        const laid = parts.lay?.stations.find((l) => l.station === s.station)?.pose;
        const proven = parts.prove?.setups.find((l) => l.station === s.station)?.pose;
        const whole = proven && proven.east !== null && proven.north !== null ? { east: proven.east, north: proven.north } : null;
        const pose = whole ?? (isChosen ? parts.answer?.pose : null) ?? s.pose ?? laid;
        if (!pose) continue;
        out.push({
            name: s.station,
            east: pose.east,
            north: pose.north,
            isChosen,
            ellipse: isChosen && parts.answer ? ellipse95(parts.answer.pose.covariance) : null,
        });
    }
    return out;
}

/** A move less likely than this is told in the table only. */
const kShownMove = 0.05;

/** In Station the marks' misfits; in Vet what they are off; in Prove how marks moved; in Lay and Watch the deviations of what was laid. */
function sceneMisfits(parts: SceneParts, places: Map<string, [number, number]>): SceneMisfit[] {
    const out: SceneMisfit[] = [];
    const add = (name: string, e: number | null, n: number | null) => {
        const at = places.get(name);
        if (at && e !== null && n !== null) out.push({ east: at[0], north: at[1], off_east_mm: e, off_north_mm: n });
    };
    if (parts.vet) {
        for (const m of parts.vet.marks) add(m.mark, m.off.east_mm, m.off.north_mm);
    } else if (parts.prove) {
        for (const m of parts.prove.moves) {
            if (m.of !== 'plan' || (m.probability ?? 0) < kShownMove) continue;
            add(m.point, m.shift.east_mm, m.shift.north_mm);
            const last = out[out.length - 1];
            if (last && places.has(m.point)) last.ellipse = axisEllipse95(m.sd.east_mm, m.sd.north_mm);
        }
    } else if (parts.watch) {
        for (const p of parts.watch.points) add(p.point, p.corrected.east_mm, p.corrected.north_mm);
    } else if (parts.lay) {
        for (const p of parts.lay.laid) add(p.point, p.deviation.east_mm, p.deviation.north_mm);
    } else if (parts.answer) {
        for (const m of parts.answer.marks) add(m.mark, m.off_east_mm, m.off_north_mm);
    }
    return out;
}

function sceneSights(
    parts: SceneParts,
    places: Map<string, [number, number]>,
    stations: SceneStation[],
): SceneSight[] {
    const from = stations.find((s) => s.name === parts.station);
    if (!from || !parts.sights || parts.sights.station !== parts.station) return [];
    const seen = new Map<string, SceneSight>();
    for (const sight of parts.sights.sights) {
        if (sight.purpose !== 'control' && sight.purpose !== 'check') continue;
        const to = places.get(sight.target);
        if (!to) continue;
        const kind = sight.set_aside ? 'aside' : sight.purpose;
        const key = `${kind} ${sight.target}`;
        if (!seen.has(key)) seen.set(key, { from: [from.east, from.north], to, kind });
    }
    return [...seen.values()];
}

/** Each pair of places between which something was measured, once. */
function measuredLines(vet: VetAnswer, places: Map<string, [number, number]>, stations: SceneStation[]): SceneSight[] {
    const at = new Map(places);
    for (const s of stations) at.set(s.name, [s.east, s.north]);
    const seen = new Map<string, SceneSight>();
    for (const m of vet.measured) {
        const [from, to] = [at.get(m.from), at.get(m.to)];
        const key = JSON.stringify([m.from, m.to].sort());
        if (from && to && !seen.has(key)) seen.set(key, { from, to, kind: 'control' });
    }
    return [...seen.values()];
}

function pointWords(parts: SceneParts): Map<string, WordCode> {
    const words = new Map<string, WordCode>();
    if (parts.plan) {
        const from = parts.here ? wordsFrom(parts.plan, parts.here) : wordsOf(parts.plan);
        for (const [point, word] of from) words.set(point, wordCode(word));
        return words;
    }
    const from = parts.prove
        ? parts.prove.points
        : parts.watch
        ? parts.watch.points
        : parts.lay
          ? parts.lay.laid
          : (parts.answer?.points ?? []);
    for (const p of from) words.set(p.point, wordCode(p.word));
    return words;
}

function* everyPlace(scene: Scene): Generator<readonly [number, number]> {
    for (const m of scene.marks) yield [m.east, m.north];
    for (const s of scene.stations) yield [s.east, s.north];
    for (let i = 0; i < scene.pointNames.length; i++) yield [scene.pointEast[i] ?? NaN, scene.pointNorth[i] ?? NaN];
    for (const o of scene.reach?.obstacles ?? []) yield* o.corners;
    for (const g of scene.grid) for (const p of g.path) yield p;
}

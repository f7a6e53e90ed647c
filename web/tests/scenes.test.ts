// What each view puts on the plan: one test a view, so that a new view brings its own.
import { describe, expect, it } from 'vitest';
import { planScene } from '../src/acts/plan/scene';
import { proveScene } from '../src/acts/prove/scene';
import { stationScene } from '../src/acts/station/scene';
import { watchScene } from '../src/acts/watch/scene';
import { buildScene, kInDoubt, kProven, kToLay } from '../src/plan/scene';
import { sheetOf } from './sheets';

const sheet = {
    ...sheetOf({ marks: [['H1', 0, 0], ['H2', 10, 0]], points: [['A', 5, 5], ['B', 6, 6]] }),
    stations: [
        { station: 'S1', pose: { east: 1, north: 1, height: null, orientation_deg: 0 } },
        { station: 'S2', pose: null },
    ],
} as never as Parameters<typeof buildScene>[0];

describe('station on the plan', () => {
    const answer = {
        station: 'S1',
        pose: { east: 2, north: 3, covariance: [[1e-6, 0, 0, 0], [0, 4e-6, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]] },
        marks: [{ mark: 'H1', used: false, off_east_mm: 6, off_north_mm: 8 }],
        points: [{ point: 'A', word: 'proven' }],
    } as never;
    const sights = {
        station: 'S1',
        sights: [
            { target: 'H1', purpose: 'control', set_aside: null },
            { target: 'H1', purpose: 'control', set_aside: null },
            { target: 'H2', purpose: 'check', set_aside: null },
            { target: 'A', purpose: 'lay', set_aside: null },
            { target: 'nowhere', purpose: 'control', set_aside: null },
        ],
    } as never;
    const scene = buildScene(sheet, stationScene(sheet, 'S1', answer, sights));

    it('stands where its own answer says, with its ellipse', () => {
        expect(scene.stations).toHaveLength(1);
        expect(scene.stations[0]).toMatchObject({ name: 'S1', east: 2, north: 3, isChosen: true });
        expect(scene.stations[0]!.ellipse!.major_mm).toBeGreaterThan(scene.stations[0]!.ellipse!.minor_mm);
    });
    it('draws control and check sights once each, to places that are known', () => {
        expect(scene.sights.map((s) => s.kind)).toEqual(['control', 'check']);
    });
    it('tells which mark is not used, and its misfit', () => {
        expect(scene.marks.map((m) => m.isUsed)).toEqual([false, null]);
        expect(scene.misfits[0]).toMatchObject({ off_east_mm: 6, off_north_mm: 8 });
        expect([...scene.pointWord]).toEqual([kProven, kToLay]);
    });
    it('without an answer shows the sheet alone', () => {
        const bare = buildScene(sheet, stationScene(sheet, 'S1', null, null));
        expect(bare.stations[0]).toMatchObject({ east: 1, north: 1, ellipse: null });
        expect(bare.sights).toEqual([]);
    });
});

describe('the day on the plan', () => {
    it('shows points as they are believed', () => {
        const watched = { points: [{ point: 'B', word: 'in doubt', corrected: { east_mm: 3, north_mm: 4 } }] } as never;
        const scene = buildScene(sheet, watchScene(sheet, 'S1', watched));
        expect([...scene.pointWord]).toEqual([kToLay, kInDoubt]);
        expect(scene.largest_mm).toBe(5);
    });
});

describe('the whole job on the plan', () => {
    const prove = {
        setups: [{ station: 'S2', pose: { east: 7, north: 8 } }],
        moves: [
            { of: 'plan', point: 'H1', probability: 0.9, shift: { east_mm: 3, north_mm: 0 }, sd: { east_mm: 1, north_mm: 1 } },
            { of: 'plan', point: 'H2', probability: 0.01, shift: { east_mm: 9, north_mm: 0 }, sd: { east_mm: 1, north_mm: 1 } },
            { of: 'height', point: 'H2', probability: 0.9, shift: { east_mm: null, north_mm: null }, sd: { east_mm: null, north_mm: null } },
        ],
        marks: [{ mark: 'H1', sighted: true, word: 'in doubt' }, { mark: 'H2', sighted: false, word: 'proven' }],
        points: [{ point: 'A', word: 'proven' }],
    } as never;
    const scene = buildScene(sheet, proveScene(sheet, 'S2', prove));

    it('takes its own poses before those of the sheet', () => {
        expect(scene.stations.map((s) => [s.name, s.east, s.isChosen])).toEqual([['S1', 1, false], ['S2', 7, true]]);
    });
    it('draws likely moves in plan with their ellipse, and words of sighted marks', () => {
        expect(scene.misfits).toHaveLength(1);
        expect(scene.misfits[0]!.ellipse!.major_mm).toBeGreaterThan(0);
        expect(scene.marks.map((m) => m.word)).toEqual([kInDoubt, null]);
    });
});

describe('planning on the plan', () => {
    const plan = {
        points: 2, counts_from: 0.9,
        map: { west: 0, south: 0, step: 5, columns: 2, rows: 1, expected: [0, 2] },
        setups: [{ setup: 'Q1', east: 3, north: 3 }],
        obstacles: [], no_go: [],
        point_reports: [{ point: 'A', state: 'counted', chance: 0.97 }, { point: 'B', state: 'in-doubt', chance: 0.5 }],
    } as never;

    it('shows the set-ups planned in place of those that stood', () => {
        const scene = buildScene(sheet, planScene(sheet, plan, null));
        expect(scene.stations.map((s) => s.name)).toEqual(['Q1']);
        expect(scene.reach?.contours).toHaveLength(1);
        expect([...scene.pointWord]).toEqual([kProven, kInDoubt]);
    });
    it('words of the tripod tried count before those of the set-ups', () => {
        const scene = buildScene(sheet, planScene(sheet, plan, { points: [1], chance: [0.95] } as never));
        expect([...scene.pointWord]).toEqual([kToLay, kProven]);
    });
});

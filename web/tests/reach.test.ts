import { describe, expect, it } from 'vitest';
import type { PlaceAnswer, PlanAnswer } from '../src/generated/acts';
import { contours, heatOf, stateWords, wordsFrom, wordsOf } from '../src/acts/plan/reach';

const plan = {
    points: 10,
    counts_from: 0.8,
    map: { west: 100, south: 200, step: 2, columns: 3, rows: 2, expected: [null, 0, 2.5, 5, 7.5, 10] },
    point_reports: [
        { point: 'a', state: 'counted' },
        { point: 'b', state: 'in-doubt' },
        { point: 'c', state: 'never-in-sight' },
        { point: 'd', state: 'in-obstacle' },
    ],
} as unknown as PlanAnswer;

describe('the map of what can be proven from where', () => {
    it('has a shade for each share, and none where nobody can stand', () => {
        expect([...heatOf(plan)!.level]).toEqual([0, 1, 3, 4, 5, 6]);
    });

    it('is none without points or places, or when it does not fit', () => {
        expect(heatOf({ ...plan, points: 0 })).toBeNull();
        expect(heatOf({ ...plan, map: { ...plan.map, columns: 0 } })).toBeNull();
        expect(heatOf({ ...plan, map: { ...plan.map, rows: 3 } })).toBeNull();
    });

    it('has its contours between places of different shade', () => {
        const edges = contours(heatOf(plan)!);
        // All neighbours differ here: 2 across in each of two rows, 3 along.
        expect(edges).toHaveLength(7);
        expect(edges).toContainEqual([101, 199, 101, 201]);
        expect(edges).toContainEqual([99, 201, 101, 201]);
        const flat = heatOf({ ...plan, map: { ...plan.map, expected: [5, 5, 5, 5, 5, 5] } })!;
        expect(contours(flat)).toEqual([]);
    });
});

describe('a point in planning', () => {
    it('has its word over all set-ups', () => {
        expect([...wordsOf(plan).values()]).toEqual(['proven', 'in doubt', 'fails', 'fails']);
        expect(stateWords('never-in-sight')).toBe('never in sight');
        expect(stateWords('some-new-state')).toBe('some new state');
    });

    it('has its word from the tripod that is tried; out of sight it has none', () => {
        const here = { points: [1, 2], chance: [0.85, 0.79] } as PlaceAnswer;
        expect([...wordsFrom(plan, here)]).toEqual([
            ['b', 'proven'],
            ['c', 'in doubt'],
        ]);
    });
});

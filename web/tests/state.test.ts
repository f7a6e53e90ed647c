import { describe, expect, it } from 'vitest';
import type { BookedSight, Station, StationSight, PreviewAnswer, WatchStation } from '../src/generated/acts';
import { fieldOf, obstacle, remap, takeFile, type ImportFile } from '../src/import/import_file';
import { describeArrival, describeChange, poseShift } from '../src/state/changes';
import { stripPlaces, writtenTimes } from '../src/state/strip';
import { dayOf } from '../src/acts/watch/day';
import { oddness, sightRows } from '../src/acts/station/rows';

function station(word: string, probability: number, east = 0, orientation = 0): Station {
    return {
        station: 'S1',
        verdict: { word, probability, because: '', next: '' },
        pose: { east, north: 0, height: 1, orientation_deg: orientation, covariance: [] },
    } as unknown as Station;
}

describe('changes', () => {
    it('name the word and the probability, before and after', () => {
        expect(describeChange(null, station('proven', 0.98))).toBe('S1 is proven (98 %).');
        expect(describeChange(station('in doubt', 0.9), station('proven', 0.98))).toBe(
            'S1 is proven (98 %); it was in doubt (90 %).',
        );
        expect(describeChange(station('proven', 0.97), station('proven', 0.98))).toBe('S1 is proven (98 %), before 97 %.');
        expect(describeChange(station('proven', 0.98001), station('proven', 0.98))).toBe('');
        expect(describeChange(station('proven', 0.98), null)).toBe('');
        expect(describeArrival(1)).toMatch(/^One/);
        expect(describeArrival(3)).toMatch(/^3 new entries/);
        expect(describeArrival(0)).not.toMatch(/0/);
    });

    it('a shift is in millimetres and turns the short way round', () => {
        const shift = poseShift(station('proven', 1, 0, 359.999), station('proven', 1, 0.01, 0.001), 0.3048);
        expect(shift.plan_mm).toBeCloseTo(3.048, 9);
        expect(shift.turn_arcsec).toBeCloseTo(7.2, 6);
        expect(shift.height_mm).toBe(0);
    });
});

describe('strip', () => {
    const minute = 60_000;
    it('keeps order, cuts nights short and keeps entries of one second apart', () => {
        const places = stripPlaces([0, 0, 10 * minute, 20 * minute, 15 * 60 * minute]);
        const at = places.map((p) => p.at);
        expect(at[0]).toBe(0);
        expect(at[4]).toBe(1);
        for (let i = 1; i < at.length; i++) expect(at[i]!).toBeGreaterThan(at[i - 1]!);
        expect(places.map((p) => p.afterPause)).toEqual([false, false, false, false, true]);
        expect(at[4]! - at[3]!).toBeLessThan(0.7);
        expect(stripPlaces([5])).toEqual([{ at: 1, afterPause: false }]);
        expect(stripPlaces([])).toEqual([]);
    });

    it('writes times only where there is room', () => {
        const places = [0, 0.05, 0.3, 0.31, 1].map((at) => ({ at, afterPause: false }));
        const texts = ['07:00', '07:10', '08:00', '08:01', '09:00'];
        expect(writtenTimes(places, texts, 0.2)).toEqual([0, 2, 4]);
        expect(writtenTimes(places, ['07:00', '07:00', '07:00', '07:00', '07:01'], 0.2)).toEqual([0, 4]);
    });
});

describe('rows of sights', () => {
    const booked = (target: string, which: number, purpose = 'control') =>
        ({ target, which, purpose, fact: target + which, set_aside: null }) as unknown as BookedSight;
    const answered = (target: string, direction: number) =>
        ({ target, used: true, standardised: { direction, zenith: null, distance: -1 } }) as unknown as StationSight;

    it('pair a sight with its residuals where it is certain', () => {
        const rows = sightRows(
            [booked('H1', 1), booked('H2', 1), booked('P', 1, 'lay'), booked('H1', 2, 'check')],
            [answered('H1', 0.1), answered('H2', 0.2), answered('H1', 0.3)],
        );
        expect(rows.map((r) => [r.target, r.which, r.answer?.standardised.direction])).toEqual([
            ['H1', 1, 0.1],
            ['H2', 1, 0.2],
            ['H1', 2, 0.3],
        ]);
    });

    it('never guess when two faces were put together', () => {
        const rows = sightRows([booked('H1', 1), booked('H1', 2)], [answered('H1', 0.1)]);
        expect(rows.map((r) => [r.booked !== null, r.answer !== null])).toEqual([
            [true, false],
            [true, false],
            [false, true],
        ]);
    });

    it('oddness is the largest of the three', () => {
        expect(oddness(answered('H1', 0.5))).toBe(1);
        const unused = { standardised: { direction: null, zenith: null, distance: null } } as unknown as StationSight;
        expect(oddness(unused)).toBeNull();
    });
});

describe('import', () => {
    const preview = (over: Partial<PreviewAnswer> = {}): PreviewAnswer => ({
        act: 'preview',
        digest: 'd',
        name: 'x.csv',
        role: 'marks',
        columns: ['Name', 'E', 'N'],
        rows: [],
        fields: [
            { field: 'mark', needed: true, unit_kind: 'none', column: 'Name' },
            { field: 'east', needed: true, unit_kind: 'length', column: 'E' },
            { field: 'north', needed: true, unit_kind: 'length', column: 'N' },
        ],
        needs_unit: false,
        refusal: null,
        rows_total: 3,
        ...over,
    });
    const file = (over: Partial<ImportFile> = {}): ImportFile => ({
        key: 1, name: 'x.csv', preview: preview(), role: 'marks', unit: null, map: {}, says: '', busy: false, ...over,
    });

    it('says what stands in the way, and nothing when nothing does', () => {
        expect(obstacle(file())).toBe('');
        expect(obstacle(file({ role: null }))).toMatch(/holds/);
        expect(obstacle(file({ preview: preview({ needs_unit: true }) }))).toMatch(/unit/);
        expect(obstacle(file({ preview: preview({ needs_unit: true }), unit: 'ft' }))).toBe('');
        const fields = preview().fields.map((f) => (f.field === 'north' ? { ...f, column: null } : f));
        expect(obstacle(file({ preview: preview({ fields }) }))).toMatch(/north/);
        expect(obstacle(file({ preview: preview({ refusal: { says: 'x.csv:3:7: no' } as never }) }))).toBe('x.csv:3:7: no');
    });

    it('a field stands for one column only', () => {
        expect(fieldOf(preview(), 'E')).toBe('east');
        expect(remap(preview(), 'N', 'east')).toEqual({ mark: 'Name', east: 'N' });
        expect(remap(preview(), 'E', null)).toEqual({ mark: 'Name', north: 'N' });
    });

    it('takes with what was said, and leaves out what was not', () => {
        expect(takeFile(file({ unit: 'ft' }), ' B ', '')).toEqual({
            digest: 'd', role: 'marks', unit: 'ft', map: null, revision: 'B', note: null,
        });
        expect(takeFile(file({ role: null }), '', '')).toBeNull();
    });
});

describe('the day', () => {
    const shift = { east_mm: 3, north_mm: 4, height_mm: 0, turn_arcsec: 0 };
    const none = { east_mm: 0, north_mm: 0, height_mm: 0, turn_arcsec: 0 };
    const watched = {
        station: 'D1',
        set_up_finished: '2031-05-15T07:42:00-05:00',
        points: [{ point: 'A1', word: 'proven' }],
        moves: [
            { from: '2031-05-15T08:00:00-05:00', to: '2031-05-15T09:00:00-05:00', probability: 0.9 },
            { from: '2031-05-15T07:45:00-05:00', to: '2031-05-15T08:00:00-05:00', probability: 0.001 },
        ],
        next_check: { due: '2031-05-15T10:42:00-05:00' },
        events: [
            { event: 'set-up finished', time: '2031-05-15T07:42:00-05:00', name: null, pose: none, sd: none, good: null },
            { event: 'check', time: '2031-05-15T09:00:00-05:00', name: 'H1', pose: shift, sd: none, good: false },
            { event: 'laid', time: '2031-05-15T08:30:00-05:00', name: 'A1', pose: none, sd: none, good: null },
        ],
    } as unknown as WatchStation;

    it('lies between the set-up and the next check, on the clock of the site', () => {
        const day = dayOf(watched)!;
        expect(day.marks.map((m) => m.kind)).toEqual(['start', 'check', 'point']);
        expect(day.marks[1]?.good).toBe(false);
        expect(day.bands).toHaveLength(1);
        expect(day.bands[0]!.from).toBeCloseTo(18 / 180, 9);
        expect(day.most_mm).toBe(5);
        expect(day.due).toBe(1);
        expect(day.hours.map((h) => h.label)).toEqual(['08:00', '09:00', '10:00']);
        expect(day.hours[0]!.at).toBeCloseTo(18 / 180, 9);
    });

    it('without any time there is no day', () => {
        expect(dayOf({ ...watched, set_up_finished: '', events: [], moves: [] } as unknown as WatchStation)).toBeNull();
    });
});

import { describe, expect, it } from 'vitest';
import { layScene } from '../src/acts/lay/scene';
import { misfitBar, misfitScale, planBar, roundBelow } from '../src/plan/bars';
import { Cells, detailFor, LabelRoom, spacing } from '../src/plan/detail';
import { ellipse95 } from '../src/plan/ellipse';
import { between, extentOf, fitFrame, moved, seen, toPixel, toSite } from '../src/plan/frame';
import { Picker } from '../src/plan/pick';
import { buildScene, kFails, kInDoubt, kProven, kToLay } from '../src/plan/scene';
import { shownFor } from '../src/format/length';
import { sheetOf } from './sheets';

const size = { width: 800, height: 600 };
const margins = { left: 40, top: 30, right: 60, bottom: 70 };

describe('frames', () => {
    const extent = { west: 2_000_000, south: 700_000, east: 2_000_200, north: 700_100 };
    const frame = fitFrame(extent, size, margins);

    it('show the whole extent inside the margins', () => {
        const [left, bottom] = toPixel(frame, extent.west, extent.south);
        const [right, top] = toPixel(frame, extent.east, extent.north);
        expect(left).toBeGreaterThanOrEqual(margins.left - 1e-6);
        expect(right).toBeLessThanOrEqual(size.width - margins.right + 1e-6);
        expect(top).toBeGreaterThanOrEqual(margins.top - 1e-6);
        expect(bottom).toBeLessThanOrEqual(size.height - margins.bottom + 1e-6);
        expect(bottom).toBeGreaterThan(top);
    });

    it('go there and back at two million feet', () => {
        for (const [k, x, y] of [[1, 0, 0], [37.5, -900, 120], [0.5, 10, 20]] as const) {
            const f = moved(frame, k, x, y);
            const [px, py] = toPixel(f, 2_000_012.345, 700_033.211);
            const [e, n] = toSite(f, px, py);
            expect(Math.abs(e - 2_000_012.345)).toBeLessThan(1e-8);
            expect(Math.abs(n - 700_033.211)).toBeLessThan(1e-8);
        }
    });

    it('a picture drawn in one frame lies right in another', () => {
        const now = moved(frame, 2, -50, 30);
        const { k, x, y } = between(frame, now);
        const [a, b] = toPixel(frame, 2_000_050, 700_020);
        const [c, d] = toPixel(now, 2_000_050, 700_020);
        expect(a * k + x).toBeCloseTo(c, 9);
        expect(b * k + y).toBeCloseTo(d, 9);
    });

    it('one place alone is shown, nothing gives no extent', () => {
        const one = extentOf([[5, 6]]);
        expect(one).toEqual({ west: 5, south: 6, east: 5, north: 6 });
        expect(Number.isFinite(fitFrame(one!, size, margins).scale)).toBe(true);
        expect(extentOf([[NaN, 1]])).toBeNull();
        expect(extentOf([])).toBeNull();
        expect(fitFrame(one!, { width: 0, height: 0 }, margins).scale).toBeGreaterThan(0);
    });

    it('what is seen holds what was fitted', () => {
        const s = seen(frame, size);
        expect(s.west).toBeLessThan(extent.west);
        expect(s.north).toBeGreaterThan(extent.north);
    });
});

describe('bars', () => {
    it.each([[1, 1], [0.99, 0.5], [7, 5], [4.99, 2], [120, 100], [0, 1], [NaN, 1], [1000, 1000]])(
        'the round value below %d is %d',
        (value, expected) => expect(roundBelow(value)).toBeCloseTo(expected, 12),
    );

    it('are as long as they say', () => {
        const bar = planBar(10, shownFor('m', 'm'), 120);
        expect(bar).toEqual({ width_px: 100, says: '10 m' });
        const feet = planBar(10, shownFor('ft', 'ft'), 120);
        expect(feet.says).toBe('20 ft');
        expect(feet.width_px).toBeCloseTo(20 * 0.3048 * 10, 9);
        const inch = misfitBar(4, shownFor('ft', 'ft-in'), 110);
        expect(inch.says).toBe('3/4 in');
        expect(inch.width_px).toBeCloseTo(0.75 * 25.4 * 4, 9);
        expect(misfitBar(10, shownFor('m', 'm'), 110)).toEqual({ width_px: 100, says: '10 mm' });
    });

    it('misfits are drawn nearly as large as asked and never larger', () => {
        for (const largest of [0.6, 2, 9, 44, 300]) {
            expect(misfitScale(largest, 64) * largest).toBeLessThanOrEqual(64 + 1e-9);
            expect(misfitScale(largest, 64) * largest).toBeGreaterThan(64 / 1.42);
        }
        expect(misfitScale(0, 64)).toBeGreaterThan(0);
    });
});

describe('ellipse', () => {
    it('has the axes and the azimuth of its covariance', () => {
        // 2 mm along azimuth 30°, 1 mm across.
        const [a, s, c] = [Math.PI / 6, Math.sin(Math.PI / 6), Math.cos(Math.PI / 6)];
        const [p, q] = [4e-6, 1e-6];
        const e = ellipse95([
            [p * s * s + q * c * c, (p - q) * s * c],
            [(p - q) * s * c, p * c * c + q * s * s],
        ]);
        expect(e?.azimuth_rad).toBeCloseTo(a, 9);
        expect(e?.major_mm).toBeCloseTo(2 * 2.4477468, 5);
        expect(e?.minor_mm).toBeCloseTo(2.4477468, 5);
        expect(ellipse95([])).toBeNull();
        expect(ellipse95([[0, 0], [0, 0]])).toBeNull();
    });
});

describe('level of detail', () => {
    it('dots when dense, symbols when there is room, names when there is more', () => {
        expect(detailFor(2)).toMatchObject({ cell_px: 2, labels: false });
        expect(detailFor(12).cell_px).toBe(0);
        expect(detailFor(12).labels).toBe(false);
        expect(detailFor(60)).toMatchObject({ radius_px: 6.5, labels: true });
        expect(detailFor(Infinity).labels).toBe(true);
    });

    it('spacing of an even field, of a row, of one', () => {
        expect(spacing(100, 100, 100)).toBeCloseTo(10, 9);
        expect(spacing(11, 100, 0)).toBeGreaterThan(0);
        expect(spacing(1, 10, 10)).toBe(Infinity);
    });

    it('a cell is taken once, outside never', () => {
        const cells = new Cells(size, 2);
        expect(cells.take(10, 10)).toBe(true);
        expect(cells.take(11, 11)).toBe(false);
        expect(cells.take(13, 11)).toBe(true);
        expect(cells.take(-5, 10)).toBe(false);
    });

    it('names never lie on each other', () => {
        const room = new LabelRoom(size);
        expect(room.claim(100, 100, 40, 12)).toBe(true);
        expect(room.claim(120, 104, 40, 12)).toBe(false);
        expect(room.claim(160, 100, 40, 12)).toBe(true);
        expect(room.claim(790, 100, 40, 12)).toBe(false);
    });
});

describe('picking', () => {
    const sheet = sheetOf({
        marks: [['H1', 2_000_000, 700_000]],
        points: [['A1', 2_000_001, 700_000], ['A2', 2_000_050, 700_050], ['A3', NaN, 1]],
    });
    const scene = buildScene(sheet, layScene(sheet, null, null));
    const picker = new Picker(scene);
    const frame = fitFrame(scene.extent!, size, margins);

    it('takes the nearest thing within reach, a mark before a point beside it', () => {
        const [x, y] = toPixel(frame, 2_000_001, 700_000);
        expect(picker.at(frame, x - 4, y, 20)).toEqual({ kind: 'mark', name: 'H1' });
        const [x2, y2] = toPixel(frame, 2_000_050, 700_050);
        expect(picker.at(frame, x2 + 5, y2, 20)).toEqual({ kind: 'point', name: 'A2' });
        expect(picker.at(frame, x2 + 100, y2, 20)).toBeNull();
    });

    it('steps through everything and round again, leaving out what has no place', () => {
        const names: string[] = [];
        let thing = picker.step(null, 1);
        for (let i = 0; i < 4 && thing; i++) {
            names.push(thing.name);
            thing = picker.step(thing, 1);
        }
        expect(names).toEqual(['H1', 'A1', 'A2', 'H1']);
        expect(picker.step({ kind: 'mark', name: 'H1' }, -1)?.name).toBe('A2');
    });

    it('an empty site has nothing to pick', () => {
        const none = buildScene(sheetOf({}), { stations: [] });
        expect(new Picker(none).at(frame, 10, 10, 30)).toBeNull();
        expect(new Picker(none).step(null, 1)).toBeNull();
    });
});

describe('scene', () => {
    it('draws what is wrong on top', () => {
        const sheet = sheetOf({ points: [['A', 0, 0], ['B', 1, 0], ['C', 2, 0], ['D', 3, 0]] });
        const lay = {
            laid: [
                { point: 'A', word: 'fails', deviation: { east_mm: 30, north_mm: 40 } },
                { point: 'C', word: 'proven', deviation: { east_mm: 1, north_mm: null } },
                { point: 'D', word: 'in doubt', deviation: { east_mm: 3, north_mm: 4 } },
            ],
            stations: [],
        } as never;
        const scene = buildScene(sheet, layScene(sheet, null, lay));
        expect([...scene.order].map((i) => scene.pointWord[i])).toEqual([kToLay, kProven, kInDoubt, kFails]);
        expect(scene.largest_mm).toBe(50);
        expect(scene.misfits).toHaveLength(2);
    });
});

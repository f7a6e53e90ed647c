import { describe, expect, it } from 'vitest';
import { shownFor } from '../src/format/length';
import type { ProveAnswer, ProveMove, RecordAnswer } from '../src/generated/acts';
import { axisEllipse95 } from '../src/plan/ellipse';
import { likelyCauses, likelyMoves, listWords, marksByNeed, movedWhen, pointsByNeed, shiftWords } from '../src/acts/prove/prove';
import { recordFiles } from '../src/acts/prove/record';

const mm = shownFor('m', null);
const none = { east_mm: null, north_mm: null, height_mm: null };

function move(part: Partial<ProveMove>): ProveMove {
    return {
        point: 'H4',
        of: 'plan',
        probability: 0.97,
        before_first_sight: false,
        after: '2031-05-13T16:00:00-05:00',
        before: '2031-05-15T07:30:00-05:00',
        says: '',
        shift: { east_mm: 12, north_mm: 0, height_mm: null },
        sd: { east_mm: 1.5, north_mm: 0.5, height_mm: null },
        setups: [],
        points: [],
        ...part,
    };
}

describe('a shift', () => {
    it('has its length, the spread along it, and where it went', () => {
        expect(shiftWords(move({}), mm)).toBe('12.0 mm ± 1.5 mm towards 090°');
        expect(shiftWords(move({ shift: { east_mm: 0, north_mm: -3, height_mm: null } }), mm)).toBe('3.0 mm ± 0.5 mm towards 180°');
        expect(shiftWords(move({ shift: { east_mm: -0.001, north_mm: 5, height_mm: null } }), mm)).toContain('towards 000°');
    });

    it('in height keeps its sign', () => {
        const height = move({ of: 'height', shift: { ...none, height_mm: -4 }, sd: { ...none, height_mm: 0.7 } });
        expect(shiftWords(height, mm)).toBe('−4.0 mm ± 0.7 mm');
        expect(shiftWords(move({ of: 'height', shift: none, sd: none }), mm)).toBe('–');
    });

    it('is known to lie between two sightings, by time or by set-up', () => {
        expect(movedWhen(move({}))).toMatch(/^between .*16:00 and .*07:30$/);
        expect(movedWhen(move({ after: 'S1', before: 'S3' }))).toBe('between S1 and S3');
        expect(movedWhen(move({ before: null, after: 'S1' }))).toBe('after S1');
        expect(movedWhen(move({ before: null, after: null }))).toBe('not known');
        expect(movedWhen(move({ before_first_sight: true }))).toContain('the sheet is wrong');
    });

    it('holds its tip in 95 of 100 cases', () => {
        // Radius of the 95 % circle in the plane: √5.991 = 2.4477 standard deviations (textbook value).
        expect(axisEllipse95(1, 1)!.major_mm).toBeCloseTo(2.4477, 4);
        expect(axisEllipse95(2, 1)!.azimuth_rad).toBeCloseTo(Math.PI / 2, 12);
        expect(axisEllipse95(1, 2)!.azimuth_rad).toBe(0);
        expect(axisEllipse95(null, 1)).toBeNull();
    });
});

describe('the whole job', () => {
    const answer = {
        points: [
            { point: 'a', word: 'proven', probability: 0.99 },
            { point: 'b', word: 'fails', probability: 0.01 },
            { point: 'c', word: 'in doubt', probability: 0.6 },
            { point: 'd', word: 'in doubt', probability: 0.4 },
        ],
        marks: [
            { mark: 'A', sighted: false, word: 'in doubt', probability: null },
            { mark: 'B', sighted: true, word: 'proven', probability: 0.98 },
            { mark: 'C', sighted: true, word: 'fails', probability: 0.02 },
        ],
        moves: [move({}), move({ point: 'H1', probability: 0.001 })],
        causes: [
            { cause: 'mark-moved', subjects: ['H4'], several: false, probability: 0.9, says: 'H4 moved', next: '' },
            { cause: 'nothing-wrong', subjects: [], several: false, probability: 0.08, says: 'nothing', next: '' },
            { cause: 'rod', subjects: [], several: false, probability: 0.001, says: 'rod', next: '' },
        ],
    } as unknown as ProveAnswer;

    it('shows what needs a hand first, and what was never sighted last', () => {
        expect(pointsByNeed(answer).map((p) => p.point)).toEqual(['b', 'd', 'c', 'a']);
        expect(marksByNeed(answer).map((m) => m.mark)).toEqual(['C', 'B', 'A']);
        expect(likelyMoves(answer).map((m) => m.point)).toEqual(['H4']);
    });

    it('sums what is not listed', () => {
        const { shown, rest } = likelyCauses(answer);
        expect(shown.map((c) => c.isWrong)).toEqual([true, false]);
        expect(rest).toBeCloseTo(0.02, 10);
    });

    it('shortens long lists', () => {
        expect(listWords([])).toBe('–');
        expect(listWords(['a', 'b', 'c'], 2)).toBe('a, b and 1 more');
    });
});

it('a record offers paper and page to open, and lists to keep', () => {
    const file = (name: string, bytes: number) => ({ name, bytes, path: `/record/x/${name}`, mime: '', description: '' });
    const { main, lists } = recordFiles({ files: [file('record.pdf', 1_234_567), file('record.html', 9_001), file('points.csv', 10)] } as RecordAnswer);
    expect(main.map((f) => f.title)).toEqual(['Open the paper (PDF, 1.2 MB)', 'Open the page (10 kB)']);
    expect(lists.map((f) => f.name)).toEqual(['points.csv']);
});

import { describe, expect, it } from 'vitest';
import { shownFor } from '../src/format/length';
import type { VetAnswer, VetDifference, VetExplanation, VetFit, VetMark, VetMeasured, VetTrap } from '../src/generated/acts';
import { vetScene } from '../src/acts/vet/scene';
import { buildScene, kInDoubt, kProven } from '../src/plan/scene';
import {
    countWords,
    evidenceWords,
    fitWords,
    foundFrom,
    foundShift,
    largestFirst,
    likely,
    likelyScales,
    marksByNeed,
    misfitWords,
    toleranceSteps,
    trapGroups,
    trapWords,
    worstFirst,
} from '../src/acts/vet/vet';
import { sheetOf } from './sheets';

const metres = shownFor('m', null);
const inches = shownFor('ft', 'ft-in');

function mark(name: string, parts: Partial<VetMark> = {}): VetMark {
    return {
        mark: name, east: 1, north: 2, height: 3, word: 'proven', probability: 0.99,
        probability_plan: 0.99, probability_height: 0.99, because: '', next: '',
        off: { east_mm: 0, north_mm: 0, height_mm: 0 }, sd_plan_mm: 1, sd_height_mm: 1,
        lists: 1, measured: 0, measured_height: 0, detectable_mm: null, detectable_height_mm: null, ...parts,
    };
}

function trap(name: string, sighting: VetTrap['sighting'], parts: Partial<VetTrap> = {}): VetTrap {
    return {
        trap: name, prior: 0.1, probability: 0.1, sighting, weakest: null, hides_on_all_lists: false,
        noncentrality: 0, detectable_mm: null, detectable_ppm: null, says: '', ...parts,
    };
}

function measured(parts: Partial<VetMeasured>): VetMeasured {
    return {
        kind: 'tape', from: 'A', to: 'B', misfit_mm: 1, misfit_arcsec: null, standardised: 0.5, redundancy: 0.5, ...parts,
    };
}

function explanation(probability: number): VetExplanation {
    return {
        cause: 'mark-off', subjects: [], list: null, probability, estimate: {}, says: '', next: '', is_pair: false, members: [],
    };
}

function vetting(parts: Partial<VetAnswer>): VetAnswer {
    return {
        act: 'vet', version: '0', unit: 'm', confidence: 0.95,
        verdict: { word: 'in doubt', probability: 0.5, because: '', next: '' },
        tolerance_plan_mm: 6.35, tolerance_height_mm: 12.7, lists: [], marks: [], job_causes: [], explanations: [],
        explanations_others: 0, frame_trouble: 0, traps: [], measured: [], differences: [], doubled_names: [],
        one_place: [], matches: [], fits: [], grid: [],
        global_test: { statistic: 0, dof: 0, lower: 0, upper: 0, variance_factor: 1, passes: true },
        notices: [], ...parts,
    };
}

describe('traps', () => {
    it('have words, also those the page does not know', () => {
        expect(trapWords('axes-exchanged')).toBe('East and north exchanged');
        expect(trapWords('sun-went-down')).toBe('Sun went down');
    });

    it('stand in the group of what they would show, the more probable first', () => {
        const groups = trapGroups([
            trap('nothing-wrong', 'seen', { probability: 0.8 }),
            trap('mirrored', 'seen', { probability: 0.01 }),
            trap('wrong-unit', 'seen', { probability: 0.02 }),
            trap('sight-wrong', 'weak'),
            trap('turned', 'cannot be seen'),
            trap('tape-wrong', 'does not apply'),
        ]);
        expect(groups.seen.map((t) => t.trap)).toEqual(['wrong-unit', 'mirrored']);
        expect(groups.weak.map((t) => t.trap)).toEqual(['sight-wrong']);
        expect(groups.unseen.map((t) => t.trap)).toEqual(['turned']);
        expect(groups.notHere.map((t) => t.trap)).toEqual(['tape-wrong']);
    });

    it('say from which size on they are found', () => {
        expect(foundFrom(trap('mark-off', 'seen', { detectable_mm: 16.41 }), metres)).toBe('from 16.4 mm');
        expect(foundFrom(trap('mark-off', 'seen', { detectable_mm: 12.7 }), inches)).toBe('from 1/2 in');
        expect(foundFrom(trap('grid-for-ground', 'seen', { detectable_ppm: 135.58 }), metres)).toBe('from 136 ppm');
        expect(foundFrom(trap('mirrored', 'seen'), metres)).toBe('');
    });
});

describe('marks', () => {
    it('that need a hand come first', () => {
        const marks = [
            mark('P', { probability: 0.97 }),
            mark('D2', { word: 'in doubt', probability: 0.9 }),
            mark('F', { word: 'fails', probability: 0.2 }),
            mark('D1', { word: 'in doubt', probability: 0.6 }),
        ];
        expect(marksByNeed(marks).map((m) => m.mark)).toEqual(['F', 'D1', 'D2', 'P']);
        expect(marks[0]?.mark).toBe('P');
        expect(countWords(vetting({ marks }))).toEqual({ proven: 1, doubt: 2, fails: 1 });
    });

    it.each([
        [1, 0, 0, '1 list, nothing measured'],
        [2, 1, 1, '2 lists, measured once'],
        [1, 2, 2, '1 list, measured twice'],
        [1, 4, 4, '1 list, measured 4 times'],
        [1, 3, 0, '1 list, measured 3 times in plan, 0 in height'],
    ])('on %d lists, measured %d and %d', (lists, plan, height, expected) =>
        expect(evidenceWords(mark('A', { lists, measured: plan, measured_height: height }))).toBe(expected),
    );

    it('say which shift would have been found', () => {
        expect(foundShift(mark('A', { detectable_mm: 8.77 }), metres)).toBe('8.8 mm');
        expect(foundShift(mark('A'), metres)).toBe('not held');
        expect(foundShift(mark('A', { east: null, north: null, detectable_height_mm: 4 }), metres)).toBe('4.0 mm');
    });
});

describe('explanations', () => {
    it('that are shown and the rest sum to one', () => {
        const { shown, rest } = likely([0.6, 0.2, 0.1, 0.009, 0.001].map(explanation));
        expect(shown.map((e) => e.probability)).toEqual([0.6, 0.2, 0.1]);
        expect(rest).toBeCloseTo(0.1, 12);
        expect(likely([]).rest).toBe(1);
        expect(likely([0.999, 0.001].map(explanation)).shown).toHaveLength(2);
        expect(likely(Array.from({ length: 20 }, () => explanation(0.05))).shown).toHaveLength(8);
    });
});

describe('what was measured', () => {
    it('is an angle or a length', () => {
        expect(misfitWords(measured({ misfit_mm: -1.562 }), metres)).toBe('−1.6 mm');
        expect(misfitWords(measured({ misfit_mm: null, misfit_arcsec: 6.78 }), metres)).toBe('+6.8"');
        expect(misfitWords(measured({ misfit_mm: null }), metres)).toBe('–');
    });

    it('comes with the worst fit first, whatever its sign', () => {
        const sorted = worstFirst([0.2, -3.1, null, 1.5].map((standardised) => measured({ standardised })));
        expect(sorted.map((m) => m.standardised)).toEqual([-3.1, 1.5, 0.2, null]);
    });
});

it('lists that differ most come first, heights counted', () => {
    const d = (name: string, east_mm: number | null, height_mm: number | null): VetDifference => ({
        list: 'B', mark: name, east_mm, north_mm: 0, height_mm,
    });
    expect(largestFirst([d('A', 1, 0), d('B', -20, null), d('C', null, 50)]).map((x) => x.mark)).toEqual(['C', 'B', 'A']);
});

describe('the plan of a vetting', () => {
    const sheet = sheetOf({ marks: [['A', 0, 0], ['B', 10, 0], ['C', 0, 10]], points: [['P', 5, 5]] });
    const scene = buildScene(
        sheet,
        vetScene(sheet, vetting({
            marks: [mark('A', { off: { east_mm: 3, north_mm: -4, height_mm: null } }), mark('B', { word: 'in doubt' })],
            measured: [measured({}), measured({ from: 'B', to: 'A' }), measured({ from: 'A', to: 'nowhere' })],
        })),
    );

    it('gives each mark its word and what it is off', () => {
        expect(scene.marks.map((m) => m.word)).toEqual([kProven, kInDoubt, null]);
        expect(scene.misfits[0]).toMatchObject({ east: 0, north: 0, off_east_mm: 3, off_north_mm: -4 });
        expect(scene.largest_mm).toBe(5);
    });

    it('has one line for what was measured between two marks', () => {
        expect(scene.sights).toEqual([{ from: [0, 0], to: [10, 0], kind: 'control' }]);
    });
});

describe('a list laid on the first', () => {
    const mm = shownFor('m', null);
    const fit = {
        scatter_mm: 30.2,
        free_scatter_mm: 1.4,
        scales: [
            { kind: 'foot', probability: 0.93, says: 'US survey foot', frame: null, ratio: 1.000002, off_ppm: 0.1 },
            { kind: 'factor', probability: 0.06, says: 'a grid factor', frame: null, ratio: 1.000002, off_ppm: 0.2 },
            { kind: 'unknown', probability: 0.01, says: 'nothing known', frame: null, ratio: null, off_ppm: null },
        ],
    } as unknown as VetFit;

    it('says what its marks stay off by, and with the scale free', () => {
        expect(fitWords(fit, mm)).toBe('30.2 mm, 1.4 mm with the scale free');
        expect(fitWords({ ...fit, free_scatter_mm: null }, mm)).toBe('30.2 mm');
    });

    it('tells what is likely to explain its scale', () => {
        expect(likelyScales(fit).map((s) => s.kind)).toEqual(['foot', 'factor']);
    });
});

it('tolerances are chosen in sixteenths of an inch, or in millimetres', () => {
    expect(toleranceSteps(shownFor('ft', null))).toContain(6.35);
    expect(toleranceSteps(shownFor('m', null))).toContain(5);
});

import { describe, expect, it } from 'vitest';
import { shownFor } from '../src/format/length';
import type { ToolFinding, ToolsAnswer } from '../src/generated/acts';
import { canBeKept, checksOf, findingsByNeed, findingWords, foundWords, kChecks, nextNames, rowWords, type Check, type Row } from '../src/tools/checks';

const kind = (check: Check) => kChecks.find((k) => k.check === check)!;
const mm = shownFor('m', null);

function finding(part: Partial<ToolFinding>): ToolFinding {
    return {
        finding: 'collimation',
        word: 'proven',
        probability: 0.99,
        unit: 'arcsec',
        value: 4.14,
        sd: 0.82,
        limit: null,
        dof: 3,
        real: true,
        at_radius_mm: 0.6,
        says: '',
        next: '',
        ...part,
    };
}

describe('the names of the next reading', () => {
    it('keep the target until it has both faces, then go on to the next', () => {
        const rows: Row[] = [];
        const seen: string[] = [];
        for (let i = 0; i < 5; i++) {
            const names = nextNames(kind('faces'), rows);
            seen.push(names['target']!);
            rows.push(names);
        }
        expect(seen).toEqual(['1', '1', '2', '2', '3']);
    });

    it('follow a name that was typed', () => {
        expect(nextNames(kind('faces'), [{ target: 'T7' }, { target: 'T7' }])).toEqual({ target: 'T8' });
        expect(nextNames(kind('faces'), [{ target: 'spire' }])).toEqual({ target: 'spire' });
    });

    it('go round the targets of the first set in each further one', () => {
        const rows: Row[] = ['a', 'a', 'b', 'b'].map((target) => ({ set: '1', target }));
        const all = [...rows];
        const seen: string[] = [];
        all.push({ set: '2', target: 'a' });
        for (let i = 0; i < 4; i++) {
            const names = nextNames(kind('sets'), all);
            seen.push(`${names['set']}${names['target']}`);
            all.push(names);
        }
        expect(seen).toEqual(['2a', '2b', '2b', '3a']);
    });

    it('run along a line, and turn the rod by a quarter', () => {
        expect(nextNames(kind('line'), [])).toEqual({ from: '1', to: '2' });
        expect(nextNames(kind('line'), [{ from: '1', to: '2' }])).toEqual({ from: '2', to: '3' });
        expect([0, 1, 2, 3, 4].map((n) => nextNames(kind('turns'), Array<Row>(n).fill({}))['turn'])).toEqual(['0', '90', '180', '270', '0']);
    });
});

describe('findings', () => {
    it('are told with their spread and their limit', () => {
        expect(foundWords(finding({}), mm)).toBe('4.1" ± 0.8"');
        expect(foundWords(finding({ unit: 'mm', value: -2.04, sd: 0.5 }), mm)).toBe('−2.0 mm ± 0.5 mm');
        expect(foundWords(finding({ value: 5, sd: null, limit: 7.25 }), mm)).toBe('5.0" of 7.3"');
    });

    it('come with what fails first', () => {
        const findings = [finding({ finding: 'a' }), finding({ finding: 'b', word: 'fails' }), finding({ finding: 'c', word: 'in doubt' })];
        const answer = { findings } as ToolsAnswer;
        expect(findingsByNeed(answer).map((f) => f.finding)).toEqual(['b', 'c', 'a']);
        expect(canBeKept(answer)).toBe(true);
        expect(canBeKept({ findings: [finding({ probability: null })] } as ToolsAnswer)).toBe(false);
        expect(canBeKept(null)).toBe(false);
    });

    it('have words of the trade, also where two have one name', () => {
        expect(findingWords('rod-lean 2')).toBe('bubble of the rod 2');
        expect(findingWords('something-new')).toBe('something new');
    });
});

it('each check belongs to one tool, and its rows are told by their names', () => {
    expect(checksOf('rod').map((c) => c.check)).toEqual(['turns']);
    expect(checksOf('instrument')).toHaveLength(4);
    expect(rowWords(kind('turns'), { turn: '90' })).toBe('90°');
    expect(rowWords(kind('line'), { from: 'A', to: 'B' })).toBe('A – B');
});

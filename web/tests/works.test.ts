import { describe, expect, it } from 'vitest';
import type { WorkEvent } from '../src/generated/acts';
import { Works } from '../src/state/works';

function note(work: string, done: number, ended = false): WorkEvent {
    return { work, says: `${work} ${done}`, done, ended };
}

describe('work that is going on', () => {
    it('is followed to its end', () => {
        const works = new Works();
        expect(works.newest).toBeNull();
        works.heard(note('vet-1', 0.2));
        works.heard(note('vet-1', 0.4));
        expect(works.newest?.done).toBe(0.4);
        works.heard(note('vet-1', 1, true));
        expect(works.newest).toBeNull();
    });

    it('the end of one leaves the others', () => {
        const works = new Works();
        works.heard(note('sheet-9', 0.1));
        works.heard(note('vet-10', 0.2));
        works.heard(note('sheet-9', 0.3));
        expect(works.newest?.work).toBe('vet-10');
        works.heard(note('vet-10', 1, true));
        expect(works.newest).toEqual(note('sheet-9', 0.3));
        works.heard(note('plan-3', 1, true));
        expect(works.newest?.work).toBe('sheet-9');
        works.heard(note('sheet-9', 1, true));
        expect(works.newest).toBeNull();
    });

    it('that ended while nobody listened is not waited for', () => {
        const works = new Works();
        works.heard(note('vet-1', 0.2));
        works.forget();
        expect(works.newest).toBeNull();
        works.heard(note('plan-2', 0.5));
        expect(works.newest?.work).toBe('plan-2');
    });
});

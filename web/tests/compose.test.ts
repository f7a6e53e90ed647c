import { describe, expect, it } from 'vitest';
import { empty, fraction, isEmpty, press, toText, type FieldKind, type Key, type Value } from '../src/entry/compose';
import { keyOf } from '../src/entry/keyboard';
import { freshDraft, isUsable } from '../src/entry/sight_draft';

/** Types 0-9 . and > (next part), < (back), f8 (eighths): "12>3f1/2". */
function type(kind: FieldKind, keys: string): { value: Value; refused: string[] } {
    let value = empty(kind);
    const refused: string[] = [];
    for (const token of keys.match(/f\d+\/\d+|./g) ?? []) {
        const [over, of] = token.slice(1).split('/').map(Number);
        const key: Key =
            token === '>'
                ? { key: 'next' }
                : token === '<'
                  ? { key: 'back' }
                  : token === '.'
                    ? { key: 'point' }
                    : token.startsWith('f')
                      ? { key: 'fraction', over: over ?? 0, of: of ?? 1 }
                      : { key: 'digit', digit: token };
        const pressed = press(value, key);
        value = pressed.value;
        if (pressed.refused) refused.push(pressed.refused);
    }
    return { value, refused };
}

describe('angles', () => {
    it.each([
        ['1234506', '123-45-06'],
        ['5>7>9', '5-07-09'],
        ['123>45>06.5', '123-45-06.5'],
        ['90', '90-00-00'],
        ['0>0>.5', '0-00-00.5'],
        ['', ''],
        ['1234506<<', '123-45-00'],
        ['1234<<', '12-00-00'],
    ])('%s reads %s', (keys, expected) => {
        const typed = type('angle', keys);
        expect(typed.refused).toEqual([]);
        expect(toText(typed.value)).toBe(expected);
    });

    it('refuses what no circle has, with the reason, and keeps what was there', () => {
        expect(type('angle', '361')).toMatchObject({ refused: ['A circle ends at 360°.'], value: { parts: ['36', '', ''] } });
        expect(type('angle', '10>60').refused).toEqual(['Minutes are below 60.']);
        expect(type('angle', '10>59>60').refused).toEqual(['Seconds are below 60.']);
        expect(type('angle', '10.').refused).toEqual(['A decimal point belongs to the seconds.']);
        expect(type('angle', '10>10>10.1.').refused).toEqual(['There is a decimal point already.']);
    });
});

describe('feet and inches', () => {
    it.each([
        ['12>3f8/16', `12' 3 1/2"`],
        ['12>f1/16', `12' 0 1/16"`],
        ['6', '6'],
        ['6>0', `6' 0"`],
        ['12.345', '12.345'],
        ['>11f15/16', `11 15/16"`],
        ['>f1/4', `1/4"`],
        ['12>3f1/2<', `12' 3"`],
        ['12>3f1/2<<', '12'],
    ])('%s reads %s', (keys, expected) => {
        const typed = type('feet', keys);
        expect(typed.refused).toEqual([]);
        expect(toText(typed.value)).toBe(expected);
    });

    it('refuses with the reason', () => {
        expect(type('feet', '5>12').refused).toEqual(['Inches are below 12.']);
        expect(type('feet', '5.5f1/2').refused).toEqual(['Decimal feet take no fraction of an inch.']);
        expect(type('feet', '5f1/2>3').refused).toEqual(['Choose the fraction from the fraction keys.']);
        expect(type('feet', '5>3.').refused).toEqual(['A decimal point belongs to feet.']);
        expect(type('metres', '1.23456').refused).toEqual(['Four decimals are enough.']);
        expect(type('metres', 'f1/2').refused).toEqual(['Fractions are for inches.']);
    });

    it('fractions come in lowest terms', () => {
        expect([2, 4, 6, 8, 12, 15].map((n) => fraction(n, 16))).toEqual(['1/8', '1/4', '3/8', '1/2', '3/4', '15/16']);
    });
});

describe('any keys', () => {
    it('never leave a value that is out of range', () => {
        let seed = 7;
        const random = (n: number) => {
            seed = (seed * 48271) % 2147483647;
            return seed % n;
        };
        const kinds: FieldKind[] = ['angle', 'feet', 'metres'];
        for (let run = 0; run < 2000; run++) {
            const keys = Array.from({ length: 14 }, () => '0123456789.><'[random(13)]).join('');
            const { value } = type(kinds[run % 3] ?? 'angle', keys);
            if (value.kind === 'angle') {
                expect(Number(value.parts[0] || 0)).toBeLessThanOrEqual(360);
                expect(Number(value.parts[1] || 0)).toBeLessThan(60);
                expect(Number(value.parts[2] || 0)).toBeLessThan(60);
            }
            if (value.kind === 'feet') expect(Number(value.parts[1] || 0)).toBeLessThan(12);
            expect(toText(value) === '').toBe(isEmpty(value));
        }
    });
});

describe('a keyboard', () => {
    it('types the same keys', () => {
        expect(keyOf('7')).toEqual({ key: 'digit', digit: '7' });
        expect(keyOf('-')).toEqual({ key: 'next' });
        expect(keyOf('Backspace')).toEqual({ key: 'back' });
        expect(keyOf('a')).toBeNull();
    });
});

describe('drafts', () => {
    it('the next sight keeps the rod, the purpose and the face, and asks for the rest', () => {
        const first = freshDraft('feet', null);
        first.values.target_height = type('feet', '5.000').value;
        first.values.direction = type('angle', '12').value;
        first.purpose = 'check';
        first.face = '2';
        first.target = 'H1';
        const next = freshDraft('feet', first);
        expect(toText(next.values.target_height)).toBe('5.000');
        expect(isEmpty(next.values.direction)).toBe(true);
        expect(next).toMatchObject({ purpose: 'check', face: '2', target: null });
    });

    it('a rod in feet is not offered where metres are typed', () => {
        const first = freshDraft('feet', null);
        first.values.target_height = type('feet', '5').value;
        expect(isEmpty(freshDraft('metres', first).values.target_height)).toBe(true);
    });

    it('what lies in storage is used only when it fits', () => {
        expect(isUsable(freshDraft('feet', null), 'feet')).toBe(true);
        expect(isUsable(freshDraft('feet', null), 'metres')).toBe(false);
        expect(isUsable(null, 'feet')).toBe(false);
        expect(isUsable({ values: {} }, 'feet')).toBe(false);
        expect(isUsable('x', 'feet')).toBe(false);
    });
});

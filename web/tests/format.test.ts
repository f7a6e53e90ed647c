import { describe, expect, it } from 'vitest';
import { showArcsec, showDms, signed } from '../src/format/angle';
import { feetInches, metresPer, showCoordinate, showLength, showOffset, showSize, shownFor, smallInches } from '../src/format/length';
import { asideHint, plain } from '../src/format/plain';
import { showPercent, showPercentShort } from '../src/format/percent';
import { clock, day, instant, stamp } from '../src/format/time';

const ft = shownFor('ft', 'ft');
const inches = shownFor('ft', 'ft-in');
const metres = shownFor('m', null);

describe('angles', () => {
    it.each([
        [123.75166667, 0, `123°45'06"`],
        [0, 0, `0°00'00"`],
        // 59.96" with one decimal shown is 60.0": the next minute.
        [10 + 59 / 60 + 59.96 / 3600, 1, `11°00'00.0"`],
        [10 + 59 / 60 + 59.96 / 3600, 2, `10°59'59.96"`],
        [359.9999999, 0, `0°00'00"`],
        [-0.5, 0, `359°30'00"`],
        [360, 0, `0°00'00"`],
        [5.01, 1, `5°00'36.0"`],
    ])('%d degrees with %d decimals', (degrees, decimals, expected) => {
        expect(showDms(degrees, decimals)).toBe(expected);
    });

    it('agrees with the value it was made from, wherever it is on the circle', () => {
        for (let ticks = 0; ticks < 1_296_000; ticks += 997) {
            const text = showDms(ticks / 3600);
            const [d, m, s] = text.split(/[°'"]/).map(Number);
            expect((d ?? 0) * 3600 + (m ?? 0) * 60 + (s ?? 0)).toBe(ticks);
        }
    });

    it('residuals carry a sign, zero does not', () => {
        expect(showArcsec(6.42)).toBe('+6.4"');
        expect(showArcsec(-12.6)).toBe('−13"');
        expect(showArcsec(-0.04)).toBe('0.0"');
        expect(signed('-0.0')).toBe('0.0');
    });
});

describe('lengths', () => {
    it.each([
        [12 + 3.5 / 12, `12'-3 1/2"`],
        [6, `6'-0"`],
        // 11 31/32" is nearer to the next foot.
        [5 + (11 + 31.5 / 32) / 12, `6'-0"`],
        [0.5 / 12, `0'-0 1/2"`],
        [0, `0'-0"`],
        [-(2 + 1 / 12 / 16), `−2'-0 1/16"`],
        [-0.00001, `0'-0"`],
        [100, `100'-0"`],
    ])('%d ft in feet and inches', (feet, expected) => {
        expect(feetInches(feet)).toBe(expected);
    });

    it.each([
        [1 / 16 / 12, '1/16 in'],
        [-5.5 / 12, '−5 1/2 in'],
        [0.0001, '< 1/32 in'],
        [-0.0001, '< 1/32 in'],
        [0, '0 in'],
        [1.5, `1'-6"`],
    ])('%d ft in inches', (feet, expected) => {
        expect(smallInches(feet)).toBe(expected);
    });

    it('every sixteenth of a foot comes back in lowest terms', () => {
        for (let ticks = 0; ticks < 12 * 16 * 3; ticks++) {
            const text = feetInches(ticks / 16 / 12);
            const parts = /^(\d+)'-(\d+)(?: (\d+)\/(\d+))?"$/.exec(text);
            expect(parts, text).not.toBeNull();
            const [, feet, whole, top, bottom] = parts!.map((p) => (p === undefined ? 0 : Number(p)));
            const back = (feet ?? 0) * 192 + (whole ?? 0) * 16 + (bottom ? ((top ?? 0) * 16) / bottom : 0);
            expect(back, text).toBe(ticks);
            if (bottom) expect((top ?? 0) % 2, text).toBe(1);
        }
    });

    it('carries its unit in each way of showing', () => {
        expect(showLength(3.048, metres)).toBe('3.048 m');
        expect(showLength(3.048, ft)).toBe('10.000 ft');
        expect(showLength(3.048, inches)).toBe(`10'-0"`);
        expect(showLength(1200 / 3937, shownFor('us-ft', null))).toBe('1.000 us-ft');
        expect(showOffset(-1.89, metres)).toBe('−1.9 mm');
        expect(showOffset(1.89, ft)).toBe('+0.006 ft');
        expect(showOffset(1.5875, inches)).toBe('+1/16 in');
        expect(showOffset(0.1, inches)).toBe('< 1/32 in');
        expect(showSize(-6.35, inches)).toBe('1/4 in');
    });

    it('turns coordinates of the job into the unit shown', () => {
        expect(showCoordinate(5006.412, 'ft', ft)).toBe('5006.412 ft');
        expect(showCoordinate(5006.412, 'ft', shownFor('ft', 'm'))).toBe('1525.954 m');
        expect(showCoordinate(2_000_000, 'us-ft', shownFor('us-ft', 'm'))).toBe('609601.219 m');
        expect(showCoordinate(-0.0001, 'm', metres)).toBe('0.000 m');
    });

    it('the two feet are two feet', () => {
        expect(metresPer('us-ft') / metresPer('ft') - 1).toBeCloseTo(2e-6, 9);
    });
});

describe('probabilities', () => {
    it('are never rounded up past what was reached', () => {
        expect(showPercent(0.94999)).toBe('94.9 %');
        expect(showPercent(0.95)).toBe('95 %');
        expect(showPercent(0.99999)).toBe('more than 99.9 %');
        expect(showPercent(0.0004)).toBe('less than 0.1 %');
        expect(showPercent(1.5)).toBe('more than 99.9 %');
        expect(showPercentShort(0.99999)).toBe('>99.9 %');
    });
});

describe('times', () => {
    it('keep the clock that is written in them', () => {
        expect(clock('2031-05-15T07:33:05-05:00')).toBe('07:33');
        expect(clock('2031-05-15T07:33:05-05:00', true)).toBe('07:33:05');
        expect(day('2031-05-15T07:33:05-05:00')).toBe('15 May 2031');
        expect(instant('2031-05-15T07:33:00-05:00')).toBe(Date.UTC(2031, 4, 15, 12, 33));
        expect(instant('2031-05-15 12:33:00Z')).toBe(Date.UTC(2031, 4, 15, 12, 33));
        expect(instant('noon')).toBeNull();
        expect(clock('noon')).toBe('noon');
    });

    it('a stamp names the same moment again', () => {
        const moment = new Date(2031, 4, 15, 7, 3, 9);
        expect(instant(stamp(moment))).toBe(moment.getTime());
        expect(stamp(moment)).toMatch(/^2031-05-15T07:03:09[+-]\d\d:\d\d$/);
    });
});

describe('sentences', () => {
    it('lose what is meant for the command line, and keep the rest', () => {
        const next = 'Leave H4 out (--set-aside "S1:H4=reason") and have the surveyor check the mark.';
        expect(plain(next)).toBe('Leave H4 out and have the surveyor check the mark.');
        expect(plain('Lay nothing more. (layproof watch has the day)')).toBe('Lay nothing more.');
        expect(plain('H4 (0.052 ft off) is out (air, kind of foot).')).toBe('H4 (0.052 ft off) is out (air, kind of foot).');
        expect(asideHint(next)).toEqual({ station: 'S1', target: 'H4', which: 0 });
        expect(asideHint('out (--set-aside "S1:H4#2=reason")')).toEqual({ station: 'S1', target: 'H4', which: 2 });
        expect(asideHint('Lay the points.')).toBeNull();
    });
});

// A keyboard in the office may be used in place of the keys on the page.

import type { Key } from './compose';

export function keyOf(pressed: string): Key | null {
    if (/^[0-9]$/.test(pressed)) return { key: 'digit', digit: pressed };
    if (pressed === '.' || pressed === ',') return { key: 'point' };
    if (pressed === 'Backspace') return { key: 'back' };
    if (pressed === 'Delete') return { key: 'clear' };
    if (['-', ' ', "'", '°', ':'].includes(pressed)) return { key: 'next' };
    return null;
}

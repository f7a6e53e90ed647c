// How keys become a value. A value has parts (degrees, minutes, seconds; feet, inches, fraction);
// keys go into the part at hand and move on by themselves when it is full. A key that would make
// the value impossible is refused with the reason, and the value stays as it was.

export type FieldKind = 'angle' | 'feet' | 'metres';

export interface Value {
    kind: FieldKind;
    parts: [string, string, string];
    /** The part that takes the next key. */
    at: 0 | 1 | 2;
}

export type Pressed = { value: Value; refused: string };

export type Key =
    | { key: 'digit'; digit: string }
    | { key: 'point' }
    | { key: 'next' }
    | { key: 'back' }
    | { key: 'clear' }
    | { key: 'fraction'; over: number; of: number };

export function empty(kind: FieldKind): Value {
    return { kind, parts: ['', '', ''], at: 0 };
}

export function isEmpty(value: Value): boolean {
    return value.parts.every((p) => p === '');
}

export function press(value: Value, key: Key): Pressed {
    const parts: [string, string, string] = [...value.parts];
    const stay = (refused: string): Pressed => ({ value, refused });
    const now = (at: 0 | 1 | 2): Pressed => ({ value: { kind: value.kind, parts, at }, refused: '' });
    switch (key.key) {
        case 'clear':
            return { value: empty(value.kind), refused: '' };
        case 'back':
            return back(value, parts, now);
        case 'next':
            if (value.kind === 'metres' || parts[0].includes('.')) return stay('');
            return value.at === 2 ? stay('') : now((value.at + 1) as 1 | 2);
        case 'fraction':
            if (value.kind !== 'feet') return stay('Fractions are for inches.');
            if (parts[0].includes('.')) return stay('Decimal feet take no fraction of an inch.');
            parts[2] = fraction(key.over, key.of);
            return now(2);
        case 'point':
            return point(value, parts, now, stay);
        case 'digit':
            return digit(value, key.digit, parts, now, stay);
    }
}

type Now = (at: 0 | 1 | 2) => Pressed;
type Stay = (refused: string) => Pressed;

function back(value: Value, parts: [string, string, string], now: Now): Pressed {
    let at = value.at;
    while (at > 0 && parts[at] === '') at = (at - 1) as 0 | 1;
    // A fraction goes as a whole: it came with one key.
    parts[at] = value.kind === 'feet' && at === 2 ? '' : parts[at].slice(0, -1);
    return now(at);
}

function point(value: Value, parts: [string, string, string], now: Now, stay: Stay): Pressed {
    const at = value.at;
    const decimalHere =
        value.kind === 'metres' || (value.kind === 'angle' && at === 2) || (value.kind === 'feet' && at === 0);
    if (!decimalHere) {
        return stay(value.kind === 'angle' ? 'A decimal point belongs to the seconds.' : 'A decimal point belongs to feet.');
    }
    if (parts[at].includes('.')) return stay('There is a decimal point already.');
    parts[at] = (parts[at] === '' ? '0' : parts[at]) + '.';
    return now(at);
}

function digit(value: Value, text: string, parts: [string, string, string], now: Now, stay: Stay): Pressed {
    let at = value.at;
    if (value.kind === 'angle' && at < 2 && parts[at].length >= (at === 0 ? 3 : 2)) at = (at + 1) as 1 | 2;
    if (value.kind === 'feet' && at === 2) return stay('Choose the fraction from the fraction keys.');
    const next = parts[at] + text;
    const refused = refuse(value.kind, at, next);
    if (refused) return stay(refused);
    parts[at] = next;
    return now(at);
}

function refuse(kind: FieldKind, at: number, text: string): string {
    const number = Number(text);
    const decimals = text.includes('.') ? text.length - text.indexOf('.') - 1 : 0;
    if (kind === 'angle') {
        if (at === 0) return number > 360 ? 'A circle ends at 360°.' : '';
        if (at === 1) return number > 59 ? 'Minutes are below 60.' : '';
        if (number >= 60) return 'Seconds are below 60.';
        return decimals > 2 ? 'Hundredths of a second are enough.' : '';
    }
    if (kind === 'feet' && at === 1) return number > 11 ? 'Inches are below 12.' : '';
    if (decimals > 4) return 'Four decimals are enough.';
    return text.replace('.', '').length > 9 ? 'That is too long for a length.' : '';
}

/** 8/16 becomes 1/2. */
export function fraction(over: number, of: number): string {
    let [top, bottom] = [over, of];
    while (top > 0 && top % 2 === 0 && bottom % 2 === 0) {
        top /= 2;
        bottom /= 2;
    }
    return `${top}/${bottom}`;
}

/** The text that the program reads: 123-45-06, 12' 3 1/2", 12.345. Empty for an empty value. */
export function toText(value: Value): string {
    if (isEmpty(value)) return '';
    const [a, b, c] = value.parts;
    if (value.kind === 'angle') return `${a || '0'}-${(b || '0').padStart(2, '0')}-${padSeconds(c)}`;
    if (value.kind === 'metres') return a;
    if (a.includes('.') || (b === '' && c === '')) return a;
    const inches = c === '' ? b || '0' : b === '' || b === '0' ? (a === '' ? c : `0 ${c}`) : `${b} ${c}`;
    return a === '' ? `${inches}"` : `${a}' ${inches}"`;
}

function padSeconds(text: string): string {
    if (text === '') return '00';
    const [whole, decimals] = text.split('.');
    return (whole ?? '').padStart(2, '0') + (decimals ? `.${decimals}` : '');
}

/** The signs after each part, as it is shown while typing. */
export function signs(kind: FieldKind): [string, string, string] {
    if (kind === 'angle') return ['°', "'", '"'];
    if (kind === 'feet') return ["'", '', '"'];
    return [' m', '', ''];
}

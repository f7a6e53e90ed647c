// Times. A text with an offset keeps the clock of the site that is written in it; a text in UTC is
// shown on the clock of this device.

const kStamp = /^(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*(Z|[+-]\d{2}:?\d{2})?$/;
const kMonths = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** Milliseconds since 1970, or null for a text that is no time. */
export function instant(text: string): number | null {
    const parts = kStamp.exec(text.trim());
    if (!parts) return null;
    const zone = parts[7] ?? 'Z';
    const iso = `${parts[1]}-${parts[2]}-${parts[3]}T${parts[4]}:${parts[5]}:${parts[6] ?? '00'}`;
    const offset = zone === 'Z' || zone.includes(':') ? zone : `${zone.slice(0, 3)}:${zone.slice(3)}`;
    const value = Date.parse(iso + offset);
    return Number.isNaN(value) ? null : value;
}

/** 14:20, with seconds when asked. */
export function clock(text: string, seconds = false): string {
    const parts = kStamp.exec(text.trim());
    if (!parts) return text;
    if (parts[7] && parts[7] !== 'Z') {
        return seconds ? `${parts[4]}:${parts[5]}:${parts[6] ?? '00'}` : `${parts[4]}:${parts[5]}`;
    }
    const date = new Date(instant(text) ?? 0);
    const hm = `${two(date.getHours())}:${two(date.getMinutes())}`;
    return seconds ? `${hm}:${two(date.getSeconds())}` : hm;
}

/** 15 May, with the year. */
export function day(text: string): string {
    const parts = kStamp.exec(text.trim());
    if (!parts) return text;
    if (parts[7] && parts[7] !== 'Z') {
        return `${Number(parts[3])} ${kMonths[Number(parts[2]) - 1] ?? '?'} ${parts[1]}`;
    }
    const date = new Date(instant(text) ?? 0);
    return `${date.getDate()} ${kMonths[date.getMonth()] ?? '?'} ${date.getFullYear()}`;
}

/** The moment with this device's offset, as a sight is booked: 2031-05-15T14:20:05-05:00. */
export function stamp(date: Date): string {
    const offset = -date.getTimezoneOffset();
    const sign = offset < 0 ? '-' : '+';
    const size = Math.abs(offset);
    return (
        `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}` +
        `T${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}` +
        `${sign}${two(Math.floor(size / 60))}:${two(size % 60)}`
    );
}

function two(value: number): string {
    return String(value).padStart(2, '0');
}

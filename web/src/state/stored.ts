// Small things kept on this device: drafts, choices, initials. Storage may be shut or full; then
// they last as long as the page.

const kPrefix = 'layproof.';

export function load<T>(key: string, otherwise: T): T {
    try {
        const text = localStorage.getItem(kPrefix + key);
        return text === null ? otherwise : (JSON.parse(text) as T);
    } catch {
        return otherwise;
    }
}

export function keep(key: string, value: unknown): void {
    try {
        if (value === null || value === undefined) localStorage.removeItem(kPrefix + key);
        else localStorage.setItem(kPrefix + key, JSON.stringify(value));
    } catch {
        // Nothing to be done: what was typed stays on the page.
    }
}

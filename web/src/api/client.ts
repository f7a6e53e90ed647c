// One door to the program: POST /api/ACT with a JSON document, an answer or a refusal back.

import type { ActName, Acts, PairAnswer, PreviewAnswer, Refusal } from '../generated/acts';

/** What came back was not an answer. `says` is a sentence for the reader. */
export class ApiError extends Error {
    readonly status: number;
    readonly refusal: Refusal | null;

    constructor(status: number, says: string, refusal: Refusal | null = null) {
        super(says);
        this.name = 'ApiError';
        this.status = status;
        this.refusal = refusal;
    }

    /** Nobody answered: no network, the program ended. */
    get isSilence(): boolean {
        return this.status === 0;
    }
}

const kTokenKey = 'layproof.token';
let token: string | null = read(kTokenKey);

function read(key: string): string | null {
    try {
        return localStorage.getItem(key);
    } catch {
        return null;
    }
}

export function pairingToken(): string | null {
    return token;
}

export function keepToken(value: string | null): void {
    token = value;
    try {
        if (value === null) localStorage.removeItem(kTokenKey);
        else localStorage.setItem(kTokenKey, value);
    } catch {
        // Storage is shut: the token lasts as long as the page.
    }
}

async function answer<T>(path: string, init: RequestInit): Promise<T> {
    const headers = new Headers(init.headers);
    if (token) headers.set('Authorization', `Bearer ${token}`);
    let response: Response;
    try {
        response = await fetch(path, { ...init, headers, cache: 'no-store' });
    } catch (error) {
        if (error instanceof DOMException && error.name === 'AbortError') throw error;
        throw new ApiError(0, 'layproof is not answering.');
    }
    let body: unknown = null;
    try {
        body = await response.json();
    } catch {
        throw new ApiError(response.status, `layproof answered with status ${response.status} and no document.`);
    }
    if (response.ok) return body as T;
    const refusal = (body as { refusal?: Refusal } | null)?.refusal ?? null;
    throw new ApiError(
        response.status,
        refusal?.says || `layproof refused this with status ${response.status}.`,
        refusal,
    );
}

/** Asks an act. Members that are null or undefined are left out. */
export function ask<A extends ActName>(
    act: A,
    request: Acts[A]['request'],
    signal?: AbortSignal,
): Promise<Acts[A]['answer']> {
    const body = JSON.stringify(request, (_, value: unknown) => (value === null ? undefined : value));
    return answer(`/api/${act}`, {
        method: 'POST',
        headers: { 'Content-Type': 'application/json' },
        body,
        ...(signal ? { signal } : {}),
    });
}

/** Gives the one-time code that the program printed; keeps what comes back. */
export async function pair(code: string): Promise<void> {
    const given = await answer<PairAnswer>('/api/pair', {
        method: 'POST',
        headers: { 'Content-Type': 'application/json' },
        body: JSON.stringify({ code }),
    });
    keepToken(given.token);
}

/** Hands a file over; it is looked at and kept until taken. */
export function handFile(name: string, bytes: Blob): Promise<PreviewAnswer> {
    return answer(`/api/files?name=${encodeURIComponent(name)}`, {
        method: 'POST',
        headers: { 'Content-Type': 'application/octet-stream' },
        body: bytes,
    });
}

/** The sentence to show for anything thrown. */
export function sentence(error: unknown): string {
    if (error instanceof Error && error.message) return error.message;
    return 'Something went wrong in the page itself; load it again.';
}

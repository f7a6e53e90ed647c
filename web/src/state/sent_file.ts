// Files handed to the program for a check or a plan. They stay on this device, to be there when the
// page is loaded again, and are sent once more to a program that was started again meanwhile.

import { ApiError, handFile } from '../api/client';

export interface KeptFile {
    name: string;
    /** The program's name for what is in it. */
    digest: string;
    base64: string;
}

export interface SentFile {
    file: File;
    digest: string;
    /** As it stays on this device; null: too large, it lasts as long as the page. */
    kept: KeptFile | null;
}

/** What a device has room for beside the rest; readings of a day are a hundredth of it. */
export const kMostKept_bytes = 1_000_000;

export async function send(file: File): Promise<SentFile> {
    const { digest } = await handFile(file.name, file);
    return { file, digest, kept: await keptOf(file, digest) };
}

async function keptOf(file: File, digest: string): Promise<KeptFile | null> {
    if (file.size > kMostKept_bytes) return null;
    let text = '';
    for (const byte of new Uint8Array(await file.arrayBuffer())) text += String.fromCharCode(byte);
    return { name: file.name, digest, base64: btoa(text) };
}

/** The file again; null when what was kept is none. */
export function restored(kept: Partial<KeptFile> | null | undefined): SentFile | null {
    if (typeof kept?.name !== 'string' || typeof kept.digest !== 'string' || typeof kept.base64 !== 'string') return null;
    try {
        const file = new File([Uint8Array.from(atob(kept.base64), (sign) => sign.charCodeAt(0))], kept.name);
        return { file, digest: kept.digest, kept: kept as KeptFile };
    } catch {
        return null;
    }
}

/** Asks; where the program has forgotten one of the files all are sent again and it is asked once more. */
export async function askWith<T>(files: readonly SentFile[], run: () => Promise<T>): Promise<T> {
    try {
        return await run();
    } catch (error) {
        const isForgotten = error instanceof ApiError && error.refusal?.kind === 'file-not-kept';
        if (!isForgotten || files.length === 0) throw error;
        // The same bytes have the same digest: what was asked stays as it is.
        for (const { file } of files) await handFile(file.name, file);
        return run();
    }
}

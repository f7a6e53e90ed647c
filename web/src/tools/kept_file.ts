// A chosen file as it stays on this device, to be there when the page is loaded again.

export interface KeptFile {
    name: string;
    /** The program's name for what is in it. */
    digest: string;
    base64: string;
}

/** What a device has room for beside the rest; readings of a day are a hundredth of it. */
export const kMostKept_bytes = 1_000_000;

export async function keptOf(file: File, digest: string): Promise<KeptFile | null> {
    if (file.size > kMostKept_bytes) return null;
    let text = '';
    for (const byte of new Uint8Array(await file.arrayBuffer())) text += String.fromCharCode(byte);
    return { name: file.name, digest, base64: btoa(text) };
}

/** The file again; null when what was kept is none. */
export function fileOf(kept: Partial<KeptFile> | null | undefined): File | null {
    if (typeof kept?.name !== 'string' || typeof kept.digest !== 'string' || typeof kept.base64 !== 'string') return null;
    try {
        return new File([Uint8Array.from(atob(kept.base64), (sign) => sign.charCodeAt(0))], kept.name);
    } catch {
        return null;
    }
}

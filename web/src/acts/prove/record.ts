// The files of a record as they are offered.

import type { RecordAnswer, RecordFile } from '../../generated/acts';

export interface OfferedFile extends RecordFile {
    title: string;
}

/** Paper and page to open, and the lists to keep. */
export function recordFiles(record: RecordAnswer): { main: OfferedFile[]; lists: OfferedFile[] } {
    const main: OfferedFile[] = [];
    const lists: OfferedFile[] = [];
    for (const f of record.files) {
        if (f.name.endsWith('.pdf')) main.push({ ...f, title: `Open the paper (PDF, ${size(f.bytes)})` });
        else if (f.name.endsWith('.html')) main.push({ ...f, title: `Open the page (${size(f.bytes)})` });
        else lists.push({ ...f, title: f.name });
    }
    return { main, lists };
}

function size(bytes: number): string {
    return bytes < 1_000_000 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

// Which sheet lies above the page, and what it was opened for.

import type { Check } from '../tools/checks';

export type SheetKind = 'sight' | 'setup' | 'import' | 'aside' | 'check';

export interface AsideSubject {
    station: string;
    target: string;
    /** The n-th pointing, or 0 for all of them. */
    which: number;
    putBack: boolean;
}

class Sheets {
    which = $state<SheetKind | null>(null);
    files = $state.raw<File[]>([]);
    check = $state<Check | null>(null);
    subject = $state.raw<AsideSubject | null>(null);

    open(kind: 'sight' | 'setup'): void {
        this.which = kind;
    }

    openImport(files: File[]): void {
        this.files = files;
        this.which = 'import';
    }

    openCheck(check: Check): void {
        this.check = check;
        this.which = 'check';
    }

    openAside(subject: AsideSubject): void {
        this.subject = subject;
        this.which = 'aside';
    }

    close(): void {
        this.which = null;
        this.files = [];
        this.subject = null;
        this.check = null;
    }
}

export const sheets = new Sheets();

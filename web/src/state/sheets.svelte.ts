// Which sheet lies above the page, and what it was opened for.

export type SheetKind = 'sight' | 'setup' | 'import' | 'aside';

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
    subject = $state.raw<AsideSubject | null>(null);

    open(kind: 'sight' | 'setup'): void {
        this.which = kind;
    }

    openImport(files: File[]): void {
        this.files = files;
        this.which = 'import';
    }

    openAside(subject: AsideSubject): void {
        this.subject = subject;
        this.which = 'aside';
    }

    close(): void {
        this.which = null;
        this.files = [];
        this.subject = null;
    }
}

export const sheets = new Sheets();

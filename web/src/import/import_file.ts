// One file on its way into the job, as the import sheet holds it.

import type { PreviewAnswer, TakeFile } from '../generated/acts';

export type Role = TakeFile['role'];
export type FileUnit = NonNullable<TakeFile['unit']>;
export const kRoles: [Role, string][] = [
    ['marks', 'control marks'],
    ['points', 'points to lay'],
    ['grid', 'lines of the building grid'],
    ['setups', 'set-ups'],
    ['sights', 'sights'],
    ['instrument', 'the instrument and rod'],
    ['tapes', 'tapes between marks'],
    ['levels', 'levels between marks'],
    ['drawing', 'the marks on a drawing'],
    ['causes', 'the table of causes'],
];
export const kUnits: [FileUnit, string][] = [
    ['ft', 'feet (international, 0.3048 m)'],
    ['us-ft', 'US survey feet (1200/3937 m)'],
    ['m', 'metres'],
];

export interface ImportFile {
    key: number;
    name: string;
    preview: PreviewAnswer | null;
    role: Role | null;
    unit: FileUnit | null;
    /** Chosen by hand, field to column; untouched fields stay as the program guessed. */
    map: Record<string, string>;
    says: string;
    busy: boolean;
}

/** Which field a column is taken for, or nothing. */
export function fieldOf(preview: PreviewAnswer, column: string): string | null {
    return preview.fields.find((f) => f.column === column)?.field ?? null;
}

/** The map after a column was given another meaning. A field stands for one column only. */
export function remap(preview: PreviewAnswer, column: string, field: string | null): Record<string, string> {
    const map: Record<string, string> = {};
    for (const f of preview.fields) {
        if (f.column !== null && f.column !== column && f.field !== field) map[f.field] = f.column;
    }
    if (field !== null) map[field] = column;
    return map;
}

/** Why the file cannot be taken yet, in a few words; nothing when it can. */
export function obstacle(file: ImportFile): string {
    if (file.says) return file.says;
    if (!file.preview) return 'being read';
    if (file.role === null) return 'say what the file holds';
    if (file.preview.needs_unit && file.unit === null) return 'say the unit of its lengths';
    const missing = file.preview.fields.filter((f) => f.needed && f.column === null).map((f) => f.field);
    if (missing.length > 0) return `say which column is ${missing.join(', ')}`;
    if (file.preview.refusal) return file.preview.refusal.says;
    return '';
}

export function takeFile(file: ImportFile, revision: string, note: string): TakeFile | null {
    if (!file.preview || file.role === null) return null;
    return {
        digest: file.preview.digest,
        role: file.role,
        unit: file.unit,
        map: Object.keys(file.map).length > 0 ? file.map : null,
        revision: revision.trim() || null,
        note: note.trim() || null,
    };
}

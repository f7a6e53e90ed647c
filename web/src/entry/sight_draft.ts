// The sight being typed, as it is kept on this device until it is booked.

import { empty, type FieldKind, type Value } from './compose';

export type SightField = 'direction' | 'zenith' | 'slope_distance' | 'target_height';
export const kSightFields: SightField[] = ['direction', 'zenith', 'slope_distance', 'target_height'];
export const kFieldWords: Record<SightField, string> = {
    direction: 'direction',
    zenith: 'zenith',
    slope_distance: 'slope distance',
    target_height: 'rod height',
};

export type Purpose = 'control' | 'check' | 'lay' | 'other';

export interface SightDraft {
    target: string | null;
    purpose: Purpose;
    face: '1' | '2';
    values: Record<SightField, Value>;
}

export function kindOf(field: SightField, lengths: 'feet' | 'metres'): FieldKind {
    return field === 'direction' || field === 'zenith' ? 'angle' : lengths;
}

export function freshDraft(lengths: 'feet' | 'metres', before: SightDraft | null): SightDraft {
    const value = (field: SightField) => empty(kindOf(field, lengths));
    const rod = before?.values.target_height;
    return {
        target: null,
        purpose: before?.purpose ?? 'control',
        face: before?.face ?? '1',
        values: {
            direction: value('direction'),
            zenith: value('zenith'),
            slope_distance: value('slope_distance'),
            // The rod stays as it was until somebody changes it.
            target_height: rod && rod.kind === lengths ? rod : value('target_height'),
        },
    };
}

/** A draft from storage may be of an older page or of the other unit. */
export function isUsable(draft: unknown, lengths: 'feet' | 'metres'): draft is SightDraft {
    const d = draft as SightDraft | null;
    return (
        typeof d === 'object' &&
        d !== null &&
        typeof d.values === 'object' &&
        kSightFields.every((f) => d.values[f]?.kind === kindOf(f, lengths) && d.values[f]?.parts.length === 3)
    );
}

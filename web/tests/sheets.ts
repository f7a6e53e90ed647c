import type { SheetAnswer } from '../src/generated/acts';

type Place = [name: string, east: number, north: number];

/** A sheet with nothing on it but the given places. */
export function sheetOf(parts: { marks?: Place[]; points?: Place[] }): SheetAnswer {
    return {
        act: 'sheet',
        version: '0',
        job: { id: 'j', title: 'invented', file: 'x.job', unit: 'm', facts: 1, head: 'h' },
        as_of: null,
        marks: (parts.marks ?? []).map(([mark, east, north]) => ({
            mark, east, north, height: null, sd_mm: null, from: null, revision: '', is_moved: false,
        })),
        points: (parts.points ?? []).map(([point, east, north]) => ({
            point, east, north, height: null, element: '', tolerance_plan_mm: null, tolerance_height_mm: null,
        })),
        grid: [],
        stations: [],
        moments: [],
        documents: [],
        decisions: [],
        conflicts: [],
        checked: [],
    };
}

// A large invented site as the answers of the program would describe it. Fixed seed.

import type { SheetAnswer, Station, StationAnswer } from '../src/generated/acts.ts';

function generator(seed: number): () => number {
    let state = seed;
    return () => (state = (state * 48271) % 2147483647) / 2147483647;
}

export function inventedSheet(points: number, stations: number): SheetAnswer {
    const random = generator(20310515);
    const side = Math.ceil(Math.sqrt(points));
    return {
        act: 'sheet',
        version: '0',
        job: { id: 'invented', title: 'Invented large site', file: 'large.job', unit: 'ft', facts: points, head: 'h' },
        as_of: null,
        marks: Array.from({ length: 60 }, (_, i) => ({
            mark: `M${i + 1}`,
            east: 5000 + random() * side * 6,
            north: 10000 + random() * side * 6,
            height: 300,
            sd_mm: 1.5,
            from: null,
            revision: '',
            is_moved: false,
        })),
        points: Array.from({ length: points }, (_, i) => ({
            point: `P${i + 1}`,
            east: 5000 + (i % side) * 6 + random() * 2,
            north: 10000 + Math.floor(i / side) * 6 + random() * 2,
            height: 300,
            element: 'anchor rod',
            tolerance_plan_mm: 6.35,
            tolerance_height_mm: null,
        })),
        grid: Array.from({ length: 40 }, (_, i) => ({
            line: String(i + 1),
            kind: 'straight' as const,
            path: [
                [5000 + i * side * 0.15, 9990],
                [5000 + i * side * 0.15, 10010 + side * 6],
            ] as [number, number][],
        })),
        stations: Array.from({ length: stations }, (_, i) => ({
            station: `S${i + 1}`,
            kind: 'free' as const,
            mark: null,
            instrument_height_m: null,
            first: '2031-05-15T07:30:00-05:00',
            last: '2031-05-15T08:30:00-05:00',
            sights: 10,
            pose: {
                east: 5000 + random() * side * 6,
                north: 10000 + random() * side * 6,
                height: 305,
                orientation_deg: random() * 360,
            },
            word: 'proven' as const,
        })),
        moments: [{ time: '2031-05-15T12:00:00Z', what: 'take', says: 'invented', facts: points }],
        documents: [],
        decisions: [],
        conflicts: [],
        checked: [],
    };
}

export function inventedStation(sheet: SheetAnswer): StationAnswer {
    const words = ['proven', 'proven', 'proven', 'in doubt', 'fails'] as const;
    const first = sheet.stations.at(-1);
    const station = {
        station: first?.station ?? 'S1',
        kind: 'free',
        verdict: { word: 'in doubt', probability: 0.5, because: 'Invented for measuring.', next: 'Nothing.' },
        pose: {
            ...first?.pose,
            covariance: [
                [4e-6, 1e-6, 0, 0],
                [1e-6, 2e-6, 0, 0],
                [0, 0, 1e-6, 0],
                [0, 0, 0, 1e-10],
            ],
        },
        pose_is: 'invented',
        global_test: { statistic: 1, dof: 1, lower: 0, upper: 5, variance_factor: 1, passes: true },
        sights: [],
        marks: sheet.marks.slice(0, 12).map((m, i) => ({
            mark: m.mark,
            used: true,
            off_east_mm: Math.sin(i) * 3,
            off_north_mm: Math.cos(i) * 3,
            off_height_mm: 0,
        })),
        causes: [],
        next_sight: null,
        explained: null,
        traps: [],
        points: sheet.points.map((p, i) => ({
            point: p.point,
            sd_plan_mm: 2,
            sd_height_mm: 2,
            probability: 0.5,
            word: words[(i * 7) % 5] ?? 'proven',
            tolerance_plan_mm: 6.35,
            tolerance_height_mm: null,
        })),
        points_proven: 0,
        circle_radius: null,
        rod_height_mm: 1500,
        geometry: { remarks: [], weakest_azimuth_deg: 0, sd_weakest_mm: 1, sd_strongest_mm: 1 },
        other_places: [],
        aids: [],
        faces: { pairs: 0, collimation_arcsec: null, vertical_index_arcsec: null },
        if_kept_in: null,
        notices: [],
    } as unknown as Station;
    return { act: 'station', version: '0', unit: 'ft', confidence: 0.95, stations: [station], notices: [] };
}

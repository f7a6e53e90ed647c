// What planning draws: how much can be proven from where, what stands in the way, the set-ups.

import type { PlaceAnswer, PlanAnswer } from '../../generated/acts';
import type { Heat } from '../../plan/scene';

/** Shares of all points at which the shade changes; the last shade holds the best places. */
export const kShades = [0.05, 0.25, 0.5, 0.75, 0.9];

export function heatOf(plan: PlanAnswer): Heat | null {
    const { west, south, step, columns, rows, expected } = plan.map;
    if (columns < 1 || rows < 1 || plan.points === 0 || expected.length !== columns * rows) return null;
    const level = Uint8Array.from(expected, (e) => {
        if (e === null) return 0;
        const share = e / plan.points;
        return 1 + kShades.filter((limit) => share >= limit).length;
    });
    return { west, south, step, columns, rows, level };
}

/** Edges between places of different shade, as pairs of corners: the contours of the map. */
export function contours(heat: Heat): [number, number, number, number][] {
    const out: [number, number, number, number][] = [];
    const at = (c: number, r: number) => heat.level[r * heat.columns + c] ?? 0;
    const half = heat.step / 2;
    for (let r = 0; r < heat.rows; r++) {
        for (let c = 0; c < heat.columns; c++) {
            const [x, y] = [heat.west + c * heat.step, heat.south + r * heat.step];
            if (c + 1 < heat.columns && at(c, r) !== at(c + 1, r)) out.push([x + half, y - half, x + half, y + half]);
            if (r + 1 < heat.rows && at(c, r) !== at(c, r + 1)) out.push([x - half, y + half, x + half, y + half]);
        }
    }
    return out;
}

/** The word of each point for the tripod that is tried: counted, only in sight, or out of sight. */
export function wordsFrom(plan: PlanAnswer, here: PlaceAnswer): Map<string, string> {
    const out = new Map<string, string>();
    here.points.forEach((index, i) => {
        const point = plan.point_reports[index]?.point;
        if (point !== undefined) out.set(point, (here.chance[i] ?? 0) >= plan.counts_from ? 'proven' : 'in doubt');
    });
    return out;
}

const kStateWords: Record<string, string> = { counted: 'proven', 'in-doubt': 'in doubt', 'never-in-sight': 'fails', 'in-obstacle': 'fails', 'out-of-reach': 'fails' };

/** The same over all set-ups chosen. */
export function wordsOf(plan: PlanAnswer): Map<string, string> {
    return new Map(plan.point_reports.map((p) => [p.point, kStateWords[p.state] ?? 'in doubt']));
}

const kStates: Record<string, string> = {
    counted: 'can be proven',
    'in-doubt': 'in sight, not provable',
    'never-in-sight': 'never in sight',
    'in-obstacle': 'under an obstacle',
    'out-of-reach': 'out of reach',
};

export function stateWords(state: string): string {
    return kStates[state] ?? state.replaceAll('-', ' ');
}

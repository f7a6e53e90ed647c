// Which marks are what, how far they are off what the list says, and what was measured between what.

import type { SheetAnswer, VetAnswer } from '../../generated/acts';
import { misfitsOf, placesOf, stationsOf, wordCode, type Places, type SceneOfView, type SceneSight, type SceneStation } from '../../plan/scene';

export function vetScene(sheet: SheetAnswer, vet: VetAnswer | null): SceneOfView {
    const stations = stationsOf(sheet, null);
    if (!vet) return { stations };
    const places = placesOf(sheet);
    return {
        stations,
        sights: measuredLines(vet, places, stations),
        misfits: misfitsOf(places, vet.marks.map((m) => [m.mark, m.off.east_mm, m.off.north_mm] as const)),
        markWords: new Map(vet.marks.map((m) => [m.mark, wordCode(m.word)])),
    };
}

/** Each pair of places between which something was measured, once. */
function measuredLines(vet: VetAnswer, places: Places, stations: SceneStation[]): SceneSight[] {
    const at = new Map(places);
    for (const s of stations) at.set(s.name, [s.east, s.north]);
    const seen = new Map<string, SceneSight>();
    for (const m of vet.measured) {
        const [from, to] = [at.get(m.from), at.get(m.to)];
        const key = JSON.stringify([m.from, m.to].sort());
        if (from && to && !seen.has(key)) seen.set(key, { from, to, kind: 'control' });
    }
    return [...seen.values()];
}

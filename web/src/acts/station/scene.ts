// The set-up with its ellipse, its sights, the misfits of its marks, and what can be laid from it.

import type { SheetAnswer, SightsAnswer, Station } from '../../generated/acts';
import { ellipse95 } from '../../plan/ellipse';
import { misfitsOf, placesOf, stationsOf, wordsOfPoints, type Places, type SceneOfView, type SceneSight, type SceneStation } from '../../plan/scene';

export function stationScene(sheet: SheetAnswer, chosen: string | null, answer: Station | null, booked: SightsAnswer | null): SceneOfView {
    const stations = stationsOf(sheet, chosen, new Map(answer ? [[answer.station, answer.pose]] : []));
    const places = placesOf(sheet);
    const sights = sightLines(chosen, booked, places, stations);
    if (!answer) return { stations, sights };
    for (const s of stations) if (s.name === chosen) s.ellipse = ellipse95(answer.pose.covariance);
    return {
        stations,
        sights,
        misfits: misfitsOf(places, answer.marks.map((m) => [m.mark, m.off_east_mm, m.off_north_mm] as const)),
        usedMarks: new Map(answer.marks.map((m) => [m.mark, m.used])),
        pointWords: wordsOfPoints(answer.points),
    };
}

function sightLines(chosen: string | null, booked: SightsAnswer | null, places: Places, stations: SceneStation[]): SceneSight[] {
    const from = stations.find((s) => s.name === chosen);
    if (!from || !booked || booked.station !== chosen) return [];
    const seen = new Map<string, SceneSight>();
    for (const sight of booked.sights) {
        if (sight.purpose !== 'control' && sight.purpose !== 'check') continue;
        const to = places.get(sight.target);
        if (!to) continue;
        const kind = sight.set_aside ? 'aside' : sight.purpose;
        const key = `${kind} ${sight.target}`;
        if (!seen.has(key)) seen.set(key, { from: [from.east, from.north], to, kind });
    }
    return [...seen.values()];
}

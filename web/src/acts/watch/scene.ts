// What was laid from the set-up through the day, as it is now believed.

import type { SheetAnswer, WatchStation } from '../../generated/acts';
import { misfitsOf, placesOf, stationsOf, wordsOfPoints, type SceneOfView } from '../../plan/scene';

export function watchScene(sheet: SheetAnswer, chosen: string | null, watched: WatchStation | null): SceneOfView {
    const stations = stationsOf(sheet, chosen);
    if (!watched) return { stations };
    return {
        stations,
        misfits: misfitsOf(placesOf(sheet), watched.points.map((p) => [p.point, p.corrected.east_mm, p.corrected.north_mm] as const)),
        pointWords: wordsOfPoints(watched.points),
    };
}

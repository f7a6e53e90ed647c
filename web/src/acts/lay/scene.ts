// What was laid, and how far it is off.

import type { LayAnswer, SheetAnswer } from '../../generated/acts';
import { misfitsOf, placesOf, stationsOf, wordsOfPoints, type Poses, type SceneOfView } from '../../plan/scene';

export function layScene(sheet: SheetAnswer, chosen: string | null, lay: LayAnswer | null): SceneOfView {
    const poses: Poses = new Map();
    for (const s of lay?.stations ?? []) if (s.pose) poses.set(s.station, s.pose);
    const stations = stationsOf(sheet, chosen, new Map(), poses);
    if (!lay) return { stations };
    return {
        stations,
        misfits: misfitsOf(placesOf(sheet), lay.laid.map((p) => [p.point, p.deviation.east_mm, p.deviation.north_mm] as const)),
        pointWords: wordsOfPoints(lay.laid),
    };
}

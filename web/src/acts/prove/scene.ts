// The set-ups as the whole job places them, marks that moved, and the word of every point.

import type { ProveAnswer, SheetAnswer } from '../../generated/acts';
import { axisEllipse95 } from '../../plan/ellipse';
import { misfitsOf, placesOf, stationsOf, wordCode, wordsOfPoints, type Poses, type SceneOfView } from '../../plan/scene';

/** A move less likely than this is told in the table only. */
const kShownMove = 0.05;

export function proveScene(sheet: SheetAnswer, chosen: string | null, prove: ProveAnswer | null): SceneOfView {
    const poses: Poses = new Map();
    for (const s of prove?.setups ?? []) {
        if (s.pose && s.pose.east !== null && s.pose.north !== null) poses.set(s.station, { east: s.pose.east, north: s.pose.north });
    }
    const stations = stationsOf(sheet, chosen, poses);
    if (!prove) return { stations };
    const places = placesOf(sheet);
    const moves = prove.moves.filter((m) => m.of === 'plan' && (m.probability ?? 0) >= kShownMove);
    return {
        stations,
        misfits: moves.flatMap((m) =>
            misfitsOf(places, [[m.point, m.shift.east_mm, m.shift.north_mm]]).map((arrow) => ({
                ...arrow,
                ellipse: axisEllipse95(m.sd.east_mm, m.sd.north_mm),
            })),
        ),
        markWords: new Map(prove.marks.filter((m) => m.sighted).map((m) => [m.mark, wordCode(m.word)])),
        pointWords: wordsOfPoints(prove.points),
    };
}

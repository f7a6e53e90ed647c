import { session } from '../../state/session.svelte';
import SetupChooser from '../../views/SetupChooser.svelte';
import type { ViewParts } from '../view_parts';
import Answer from './Answer.svelte';
import { stationScene } from './scene';
import Tables from './Tables.svelte';

export const stationView: ViewParts = {
    Chooser: SetupChooser,
    Answer,
    Tables,
    books: true,
    arrows: 'misfits, ellipse',
    key: {
        lines: [
            ['sight', 'control sight'],
            ['check', 'check sight'],
            ['arrow', 'misfit: its tip is where the sights put the mark'],
            ['ellipse', 'holds the station in 95 of 100 cases'],
        ],
        words: { proven: 'can be laid within tolerance', 'in doubt': 'in doubt', fails: 'cannot be laid within tolerance' },
        none: 'not judged',
        hasUnusedMarks: true,
    },
    scene: (sheet) => stationScene(sheet, session.station, session.current, session.answer('station')?.sights ?? null),
    judged: (thing) => (thing.kind === 'point' ? (session.current?.points.find((p) => p.point === thing.name) ?? null) : null),
};

import { session } from '../../state/session.svelte';
import type { ViewParts } from '../view_parts';
import Answer from './Answer.svelte';
import { proveScene } from './scene';
import Tables from './Tables.svelte';

export const proveView: ViewParts = {
    Answer,
    Tables,
    books: false,
    arrows: 'shifts of marks',
    key: {
        lines: [
            ['arrow', 'moved: its tip is where the mark is now'],
            ['ellipse', 'holds the tip in 95 of 100 cases'],
        ],
        thing: 'point or mark',
        none: 'still to lay',
        hasUnusedMarks: true,
    },
    scene: (sheet) => proveScene(sheet, session.station, session.standing('prove')),
    judged: (thing) => {
        const whole = session.answer('prove');
        if (thing.kind === 'mark') return whole?.marks.find((m) => m.mark === thing.name && m.sighted) ?? null;
        return thing.kind === 'point' ? (whole?.points.find((p) => p.point === thing.name) ?? null) : null;
    },
};

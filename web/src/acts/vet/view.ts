import { session } from '../../state/session.svelte';
import type { ViewParts } from '../view_parts';
import Answer from './Answer.svelte';
import PartChooser from './PartChooser.svelte';
import { vetScene } from './scene';
import Tables from './Tables.svelte';

export const vetView: ViewParts = {
    Chooser: PartChooser,
    Answer,
    Tables,
    books: false,
    arrows: 'what marks are off',
    key: {
        lines: [
            ['sight', 'measured'],
            ['arrow', 'off: its tip is where the mark is on the ground'],
        ],
        thing: 'in a mark',
        none: 'not judged',
        hasUnusedMarks: false,
    },
    scene: (sheet) => vetScene(sheet, session.standing('vet')),
    judged: (thing) => (thing.kind === 'mark' ? (session.answer('vet')?.marks.find((m) => m.mark === thing.name) ?? null) : null),
};

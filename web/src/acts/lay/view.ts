import { session } from '../../state/session.svelte';
import SetupChooser from '../../views/SetupChooser.svelte';
import { kLaidKey, type ViewParts } from '../view_parts';
import Answer from './Answer.svelte';
import { layScene } from './scene';
import Tables from './Tables.svelte';

export const layView: ViewParts = {
    Chooser: SetupChooser,
    Answer,
    Tables,
    books: true,
    arrows: 'deviations',
    key: kLaidKey,
    scene: (sheet) => layScene(sheet, session.station, session.answer('lay')),
    judged: (thing) => (thing.kind === 'point' ? (session.answer('lay')?.laid.find((p) => p.point === thing.name) ?? null) : null),
};

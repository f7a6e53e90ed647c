import { session } from '../../state/session.svelte';
import SetupChooser from '../../views/SetupChooser.svelte';
import { kLaidKey, type ViewParts } from '../view_parts';
import Answer from './Answer.svelte';
import { watchScene } from './scene';
import Tables from './Tables.svelte';

const watched = () => session.answer('watch')?.stations.find((s) => s.station === session.station) ?? null;

export const watchView: ViewParts = {
    Chooser: SetupChooser,
    Answer,
    Tables,
    books: true,
    arrows: 'deviations',
    key: kLaidKey,
    scene: (sheet) => watchScene(sheet, session.station, watched()),
    judged: (thing) => (thing.kind === 'point' ? (watched()?.points.find((p) => p.point === thing.name) ?? null) : null),
};

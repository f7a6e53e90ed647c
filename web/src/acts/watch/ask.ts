import { ask } from '../../api/client';
import type { WatchAnswer } from '../../generated/acts';
import { noSights, type Question } from '../question';
import { watchChoices } from './choices.svelte';

export const watchQuestion: Question<WatchAnswer> = {
    word: 'Watch',
    missing: noSights,
    isOfOneSetup: false,
    ask: ({ as_of, only, signal }) => ask('watch', { as_of, station: only, ground: watchChoices.ground }, signal),
};

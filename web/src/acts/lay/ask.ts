import { ask } from '../../api/client';
import type { LayAnswer } from '../../generated/acts';
import { noSights, type Question } from '../question';

export const layQuestion: Question<LayAnswer> = {
    word: 'Lay',
    missing: noSights,
    isOfOneSetup: false,
    ask: ({ as_of, only, signal }) => ask('lay', { as_of, station: only, rod_height_m: null }, signal),
};

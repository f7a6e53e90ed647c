import { ask } from '../../api/client';
import type { ProveAnswer } from '../../generated/acts';
import { noSights, type Question } from '../question';

export const proveQuestion: Question<ProveAnswer> = {
    word: 'Prove',
    missing: noSights,
    isOfOneSetup: false,
    ask: ({ as_of, signal }) => ask('prove', { as_of }, signal),
};

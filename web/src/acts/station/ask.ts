import { ask } from '../../api/client';
import type { SightsAnswer, StationAnswer } from '../../generated/acts';
import { noSights, type Question } from '../question';

/** The answer with the sights that it rests on. */
export interface StationAndSights {
    answer: StationAnswer;
    sights: SightsAnswer;
}

export const stationQuestion: Question<StationAndSights> = {
    word: 'Station',
    missing: noSights,
    isOfOneSetup: true,
    ask: async ({ as_of, station, signal }) => {
        const [answer, sights] = await Promise.all([ask('station', { as_of, station }, signal), ask('sights', { as_of, station }, signal)]);
        return { answer, sights };
    },
};

import { ask } from '../../api/client';
import type { VetAnswer } from '../../generated/acts';
import { noMarks, type Question } from '../question';
import { vetChoices } from './choices.svelte';

export const vetQuestion: Question<VetAnswer> = {
    word: 'Vet',
    missing: noMarks,
    isOfOneSetup: false,
    ask: ({ as_of, signal }) =>
        ask('vet', { as_of, tolerance_plan_mm: vetChoices.plan_mm, tolerance_height_mm: vetChoices.height_mm }, signal),
};

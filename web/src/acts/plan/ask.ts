import type { PlanAnswer } from '../../generated/acts';
import { noMarks, type Question } from '../question';
import { planner } from './planner.svelte';

export const planQuestion: Question<PlanAnswer> = {
    word: 'Plan',
    missing: (sheet) =>
        noMarks(sheet) || (sheet.points.length === 0 ? 'Import the points to lay: planning asks from where they can be proven.' : ''),
    isOfOneSetup: false,
    ask: ({ as_of, signal }) => planner.plan(as_of, signal),
};

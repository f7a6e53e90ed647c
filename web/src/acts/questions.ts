// Every view there is, in the order of a job: what was handed over, where to stand, the set-up, the
// points, the day, the whole. A new view is a folder beside this file, a line here and one in views.ts.

import { layQuestion } from './lay/ask';
import { planQuestion } from './plan/ask';
import { proveQuestion } from './prove/ask';
import { stationQuestion } from './station/ask';
import { vetQuestion } from './vet/ask';
import { watchQuestion } from './watch/ask';

export const kQuestions = {
    vet: vetQuestion,
    plan: planQuestion,
    station: stationQuestion,
    lay: layQuestion,
    watch: watchQuestion,
    prove: proveQuestion,
};

export type View = keyof typeof kQuestions;
export type Answers = { [V in View]: Awaited<ReturnType<(typeof kQuestions)[V]['ask']>> };
export const kViews = Object.keys(kQuestions) as View[];

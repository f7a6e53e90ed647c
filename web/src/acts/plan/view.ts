import { session } from '../../state/session.svelte';
import type { ViewParts } from '../view_parts';
import Answer from './Answer.svelte';
import { planner } from './planner.svelte';
import { wordsOf } from './reach';
import { planScene } from './scene';
import Tables from './Tables.svelte';

export const planView: ViewParts = {
    Answer,
    Tables,
    books: false,
    arrows: '',
    key: {
        lines: [
            ['heat', 'the darker, the more points can be proven from there'],
            ['obstacle', 'obstacle'],
            ['no-go', 'nobody may stand there'],
            ['walk', 'from set-up to set-up'],
        ],
        words: { proven: 'can be proven', 'in doubt': 'in sight, not provable', fails: 'never in sight' },
        none: 'out of sight',
        hasUnusedMarks: true,
    },
    scene: (sheet) => planScene(sheet, session.standing('plan'), planner.here),
    judged: (thing) => {
        const plan = session.answer('plan');
        const point = thing.kind === 'point' ? plan?.point_reports.find((p) => p.point === thing.name) : undefined;
        return plan && point ? { word: wordsOf(plan).get(point.point) ?? null, probability: point.chance } : null;
    },
};

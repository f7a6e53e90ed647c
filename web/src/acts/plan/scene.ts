// How much can be proven from where, what stands in the way, and the set-ups chosen or tried.

import type { PlaceAnswer, PlanAnswer, SheetAnswer } from '../../generated/acts';
import { stationsOf, wordCode, type SceneOfView, type SceneReach, type WordCode } from '../../plan/scene';
import { contours, heatOf, wordsFrom, wordsOf } from './reach';

/** `here`: the answer for the tripod that is tried. */
export function planScene(sheet: SheetAnswer, plan: PlanAnswer | null, here: PlaceAnswer | null): SceneOfView {
    if (!plan) return { stations: stationsOf(sheet, null) };
    return {
        stations: plan.setups.map((s) => ({ name: s.setup, east: s.east, north: s.north, isChosen: true, ellipse: null })),
        reach: reachOf(plan),
        pointWords: codesOf(here ? wordsFrom(plan, here) : wordsOf(plan)),
    };
}

function codesOf(words: Map<string, string>): Map<string, WordCode> {
    return new Map([...words].map(([point, word]) => [point, wordCode(word)]));
}

function reachOf(plan: PlanAnswer): SceneReach {
    const heat = heatOf(plan);
    return {
        heat,
        contours: heat ? contours(heat) : [],
        obstacles: plan.obstacles,
        noGo: plan.no_go,
        walk: plan.setups.map((s) => [s.east, s.north]),
    };
}

// What a view shows of its answer, in the places that all views share.

import type { Component } from 'svelte';
import type { SheetAnswer } from '../generated/acts';
import type { SceneOfView } from '../plan/scene';
import type { Thing } from '../state/selection.svelte';

/** Of one mark, point or station. */
export interface Judged {
    word: string | null;
    probability: number | null;
}

/** How a sign of the plan's key is drawn. */
export type KeySign = 'heat' | 'obstacle' | 'no-go' | 'walk' | 'sight' | 'check' | 'arrow' | 'ellipse';

export interface KeyOfView {
    lines: [KeySign, string][];
    /** What bears the words: a point unless said otherwise. */
    thing?: string;
    words?: Record<'proven' | 'in doubt' | 'fails', string>;
    /** What a point without a word is. */
    none: string;
    /** Marks can be left unused. */
    hasUnusedMarks: boolean;
}

export interface ViewParts {
    /** What the view is about, chosen above the answer. */
    Chooser?: Component;
    /** The verdict, and what to do first. */
    Answer: Component;
    Tables: Component;
    /** Sights are booked from here: elsewhere the view has the room. */
    books: boolean;
    /** What the arrows on the plan are, beside their scale; empty without arrows. */
    arrows: string;
    key: KeyOfView;
    /** What the plan shows beside marks, points and grid lines. */
    scene(sheet: SheetAnswer): SceneOfView;
    /** The word of a thing chosen; a station's is on the sheet. */
    judged(thing: Thing): Judged | null;
}

/** The key where points laid are shown with their deviations. */
export const kLaidKey: KeyOfView = {
    lines: [['arrow', 'deviation: its tip is where the point is']],
    none: 'still to lay',
    hasUnusedMarks: true,
};

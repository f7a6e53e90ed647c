// What the program is asked for a view, apart from how its answer is shown.

import type { SheetAnswer } from '../generated/acts';

export interface Asking {
    as_of: string | null;
    sheet: SheetAnswer;
    /** The set-up chosen; empty for a view that asks about the whole job. */
    station: string;
    /** The set-up to ask about alone, when there are too many to work them all out; null: all. */
    only: string | null;
    signal: AbortSignal;
}

export interface Question<Answer> {
    /** Of the button that shows the view. */
    word: string;
    /** What has to be imported or booked before there is anything to ask; empty when nothing is missing. */
    missing(sheet: SheetAnswer): string;
    /** The answer is of the set-up that is chosen: another choice asks anew. */
    isOfOneSetup: boolean;
    ask(asking: Asking): Promise<Answer>;
}

export function noMarks(sheet: SheetAnswer): string {
    return sheet.marks.length === 0 ? 'Import the control sheet first: the marks and where they are.' : '';
}

export function noSights(sheet: SheetAnswer): string {
    if (sheet.marks.length === 0) return noMarks(sheet);
    return sheet.stations.length === 0 ? 'Set the instrument up, then book its sights to the marks, or import them.' : '';
}

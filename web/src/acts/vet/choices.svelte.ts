// What is vetted, and against what.

import type { Tool } from '../../tools/checks';

/** The control that was handed over, or one of the crew's own tools. */
export type VetPart = 'control' | Tool;
export const kVetParts: [VetPart, string][] = [
    ['control', 'Control'],
    ['instrument', 'Instrument'],
    ['rod', 'Rod'],
];

class VetChoices {
    part = $state<VetPart>('control');
    /** How far a mark may be off; null: as the job says. */
    plan_mm = $state<number | null>(null);
    height_mm = $state<number | null>(null);
}

export const vetChoices = new VetChoices();

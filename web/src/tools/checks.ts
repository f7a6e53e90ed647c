// The field checks of instrument and rod: what each takes, and the rows as they are typed.

import type { ReadFields, ToolFinding, ToolsAnswer, ToolsRequest, ToolsTable } from '../generated/acts';
import { showOffset, showSize, type Shown } from '../format/length';

export type Tool = ToolsRequest['tool'];
export type Check = ToolsTable['check'];
export type Row = Record<string, string>;

export interface CheckValue {
    column: string;
    label: string;
    /** As which value the program reads it while it is typed. */
    reads: keyof ReadFields;
    isAngle: boolean;
}

export interface CheckKind {
    check: Check;
    tool: Tool;
    title: string;
    how: string;
    /** Columns that name something. */
    names: { column: string; label: string }[];
    values: CheckValue[];
}

const angle = (column: 'direction' | 'zenith'): CheckValue => ({ column, label: column, reads: column, isAngle: true });
const length = (column: string, label: string, reads: keyof ReadFields = 'slope_distance'): CheckValue => ({
    column,
    label,
    reads,
    isAngle: false,
});

export const kChecks: CheckKind[] = [
    {
        check: 'faces',
        tool: 'instrument',
        title: 'Both faces',
        how: 'Sight a few targets in both faces: flat ones, and one 30° up or more.',
        names: [{ column: 'target', label: 'Target' }],
        values: [angle('direction'), angle('zenith')],
    },
    {
        check: 'line',
        tool: 'instrument',
        title: 'Lengths in one line',
        how: 'Three or more points in one line: measure the whole and its parts. It finds the prism constant.',
        names: [
            { column: 'from', label: 'From' },
            { column: 'to', label: 'To' },
        ],
        values: [length('distance', 'distance')],
    },
    {
        check: 'base',
        tool: 'instrument',
        title: 'A known length',
        how: 'Measure short lengths that are known by tape.',
        names: [],
        values: [length('known', 'known', 'horizontal_distance'), length('measured', 'measured')],
    },
    {
        check: 'sets',
        tool: 'instrument',
        title: 'Sets of directions',
        how: 'Complete sets: every target in both faces, again and again. They test the stated figure.',
        names: [
            { column: 'set', label: 'Set' },
            { column: 'target', label: 'Target' },
        ],
        values: [angle('direction'), angle('zenith')],
    },
    {
        check: 'turns',
        tool: 'rod',
        title: 'The rod turned',
        how: 'One mark, the rod plumbed by its bubble and turned about itself by 0, 90, 180 and 270°. The same at a second height tells whether the pole is straight.',
        names: [{ column: 'turn', label: 'Turned by, degrees' }],
        values: [angle('direction'), angle('zenith'), length('slope_distance', 'slope distance'), length('target_height', 'rod height', 'target_height')],
    },
];

export function checksOf(tool: Tool): CheckKind[] {
    return kChecks.filter((c) => c.tool === tool);
}

/** The names that the next row most likely has; what was typed is never changed. */
export function nextNames(kind: CheckKind, rows: readonly Row[]): Row {
    const last = rows[rows.length - 1];
    switch (kind.check) {
        case 'faces': {
            const target = last?.['target'] ?? '1';
            return { target: rows.filter((r) => r['target'] === target).length % 2 === 0 ? after(target, rows.length > 0) : target };
        }
        case 'sets': {
            const [set, target] = [last?.['set'] ?? '1', last?.['target'] ?? '1'];
            const inSet = rows.filter((r) => r['set'] === set);
            if (inSet.filter((r) => r['target'] === target).length % 2 === 1) return { set, target };
            const before = rows.filter((r) => r['set'] !== set).map((r) => r['target'] ?? '');
            const left = [...new Set(before)].find((t) => !inSet.some((r) => r['target'] === t));
            if (left !== undefined) return { set, target: left };
            return before.length > 0 ? { set: after(set, true), target: before[0] ?? '1' } : { set, target: after(target, rows.length > 0) };
        }
        case 'line':
            return last ? { from: last['to'] ?? '', to: after(last['to'] ?? '', true) } : { from: '1', to: '2' };
        case 'turns': {
            const turns = ['0', '90', '180', '270'];
            return { turn: turns[rows.length % turns.length] ?? '0' };
        }
        case 'base':
            return {};
    }
}

/** "3" after "2", "T4" after "T3"; a name without a number stays. */
function after(name: string, isBegun: boolean): string {
    if (!isBegun) return name;
    return name.replace(/\d+$/, (n) => String(Number(n) + 1));
}

/** Several rows of one pointing in order: which of a target's rows is of which face, in words. */
export function rowWords(kind: CheckKind, row: Row): string {
    const names = kind.names.map((n) => row[n.column] ?? '');
    return kind.check === 'turns' ? `${names[0]}°` : names.join(' – ');
}

const kFindings: Record<string, string> = {
    collimation: 'line of sight',
    'trunnion-axis': 'trunnion axis',
    'vertical-index': 'vertical index',
    'prism-constant': 'prism constant',
    'rod-lean': 'bubble of the rod',
    'pole-bend': 'pole',
    'pointing-scatter': 'scatter of a pointing',
    'direction-scatter': 'scatter of a direction',
    'zenith-scatter': 'scatter of a zenith angle',
    'distance-scatter': 'scatter of a distance',
};

export function findingWords(finding: string): string {
    // A second finding of one name carries a number: rod-lean 2.
    const [name, ...rest] = finding.split(' ');
    return [kFindings[name ?? ''] ?? (name ?? '').replaceAll('-', ' '), ...rest].join(' ');
}

/** The number found with its spread: 4.1" ± 0.8", +2.0 mm ± 0.5 mm. */
export function foundWords(f: ToolFinding, shown: Shown): string {
    const says = (value: number, isSigned: boolean) =>
        f.unit === 'arcsec' ? `${value.toFixed(1).replace('-', '−')}"` : isSigned ? showOffset(value, shown) : showSize(value, shown);
    if (f.limit !== null) return `${says(f.value, false)} of ${says(f.limit, false)}`;
    return f.sd === null ? says(f.value, true) : `${says(f.value, true)} ± ${says(f.sd, false)}`;
}

const kOrder: Record<string, number> = { fails: 0, 'in doubt': 1, proven: 2 };

export function findingsByNeed(answer: ToolsAnswer): ToolFinding[] {
    return [...answer.findings].sort((a, b) => (kOrder[a.word] ?? 3) - (kOrder[b.word] ?? 3));
}

/** Whether there is a number that can be kept in the job; a scatter is none. */
export function canBeKept(answer: ToolsAnswer | null): boolean {
    return answer?.findings.some((f) => f.probability !== null) ?? false;
}

// The one thing that plan and tables both show.

export type ThingKind = 'mark' | 'point' | 'station';
export interface Thing {
    kind: ThingKind;
    name: string;
}

class Selection {
    thing = $state<Thing | null>(null);
    /** Counts up when the plan shall bring the thing into sight. */
    asked = $state(0);

    choose(kind: ThingKind, name: string, bringIntoSight = false): void {
        this.thing = { kind, name };
        if (bringIntoSight) this.asked += 1;
    }

    clear(): void {
        this.thing = null;
    }

    is(kind: ThingKind, name: string): boolean {
        return this.thing !== null && this.thing.kind === kind && this.thing.name === name;
    }
}

export const selection = new Selection();

// The work that the program says is going on, by its name: several may run at once, of this page and
// of others.

import type { WorkEvent } from '../generated/acts';

export class Works {
    private readonly going = new Map<string, WorkEvent>();

    heard(event: WorkEvent): void {
        if (event.ended) this.going.delete(event.work);
        else this.going.set(event.work, event);
    }

    /** A new stream of events tells again what is going on; what ended meanwhile it does not. */
    forget(): void {
        this.going.clear();
    }

    /** The one begun last: what is waited for now. */
    get newest(): WorkEvent | null {
        let newest: WorkEvent | null = null;
        for (const work of this.going.values()) if (newest === null || begun(work) > begun(newest)) newest = work;
        return newest;
    }
}

/** Names count up: "vet-12" was begun after "sheet-11". */
function begun(work: WorkEvent): number {
    return Number(/\d+$/.exec(work.work)?.[0] ?? 0);
}

// Asks the program what it understands while keys are pressed: the latest text wins, older answers
// are dropped, and nothing is asked faster than it is answered.

import { ask } from '../api/client';
import type { ReadField, ReadFields, ReadRequest } from '../generated/acts';

const kPause_ms = 120;

export class Reader {
    fields = $state.raw<Partial<Record<keyof ReadFields, ReadField>>>({});
    /** Texts that were typed after the last answer. */
    pending = $state(false);
    private timer: ReturnType<typeof setTimeout> | undefined;
    private round = 0;

    read(fields: ReadFields, unit: ReadRequest['unit']): void {
        clearTimeout(this.timer);
        const round = ++this.round;
        this.pending = true;
        this.timer = setTimeout(() => void this.run(round, fields, unit), kPause_ms);
    }

    stop(): void {
        clearTimeout(this.timer);
        this.round += 1;
    }

    private async run(round: number, fields: ReadFields, unit: ReadRequest['unit']): Promise<void> {
        try {
            const answer = await ask('read', { fields, unit });
            if (round === this.round) this.fields = answer.fields;
        } catch {
            // Silence shows in the status line; what was typed stays.
            if (round === this.round) this.fields = {};
        } finally {
            if (round === this.round) this.pending = false;
        }
    }
}

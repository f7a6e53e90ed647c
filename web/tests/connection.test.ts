import { describe, expect, it } from 'vitest';
import { Connection, pauseBefore, type EventStream } from '../src/state/connection';

class FakeStream implements EventStream {
    readonly listeners = new Map<string, (event: { data?: unknown }) => void>();
    closed = false;
    addEventListener(type: string, listener: (event: { data?: unknown }) => void): void {
        this.listeners.set(type, listener);
    }
    close(): void {
        this.closed = true;
    }
    say(type: string, data?: unknown): void {
        this.listeners.get(type)?.({ data });
    }
}

function world() {
    const streams: FakeStream[] = [];
    const timers: { run: () => void; ms: number; cleared: boolean }[] = [];
    const events: [string, unknown][] = [];
    const states: boolean[] = [];
    const connection = new Connection({
        open: () => {
            const stream = new FakeStream();
            streams.push(stream);
            return stream;
        },
        setTimer: (run, ms) => timers.push({ run, ms, cleared: false }) - 1,
        clearTimer: (timer) => {
            const t = timers[timer as number];
            if (t) t.cleared = true;
        },
        onEvent: (type, data) => events.push([type, data]),
        onState: (live) => states.push(live),
    });
    const last = () => streams[streams.length - 1]!;
    const fire = () => timers[timers.length - 1]!.run();
    return { connection, streams, timers, events, states, last, fire };
}

describe('connection', () => {
    it('pauses longer each time, up to eight seconds', () => {
        expect([0, 1, 2, 3, 4, 5, 20].map(pauseBefore)).toEqual([500, 1000, 2000, 4000, 8000, 8000, 8000]);
    });

    it('says lost, tries again, says back, and starts over with short pauses', () => {
        const w = world();
        w.connection.start();
        w.last().say('open');
        w.last().say('error');
        expect(w.states).toEqual([true, false]);
        expect(w.streams[0]!.closed).toBe(true);
        w.fire();
        w.last().say('error');
        w.fire();
        expect(w.timers.map((t) => t.ms)).toEqual([500, 1000]);
        w.last().say('open');
        expect(w.states).toEqual([true, false, false, true]);
        w.last().say('error');
        expect(w.timers.at(-1)?.ms).toBe(500);
    });

    it('an old stream has no say any more', () => {
        const w = world();
        w.connection.start();
        const old = w.last();
        old.say('error');
        w.fire();
        old.say('job', '{"head":"x"}');
        old.say('open');
        old.say('error');
        expect(w.events).toEqual([]);
        expect(w.states).toEqual([false]);
        expect(w.timers).toHaveLength(1);
    });

    it('hands events on, and drops what is no document', () => {
        const w = world();
        w.connection.start();
        w.last().say('job', '{"head":"a"}');
        w.last().say('job', '{broken');
        w.last().say('work', '{"done":0.5}');
        expect(w.events).toEqual([
            ['job', { head: 'a' }],
            ['work', { done: 0.5 }],
        ]);
    });

    it('tries at once when asked, and never after it was stopped', () => {
        const w = world();
        w.connection.start();
        w.last().say('error');
        w.connection.retryNow();
        expect(w.timers[0]!.cleared).toBe(true);
        expect(w.streams).toHaveLength(2);
        w.connection.stop();
        expect(w.last().closed).toBe(true);
        w.connection.retryNow();
        expect(w.streams).toHaveLength(2);
    });
});

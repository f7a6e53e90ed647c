import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { session as Session } from '../src/state/session.svelte';

/** The stream of events, in the hands of the test. */
class FakeStream {
    static last: FakeStream;
    private readonly listeners = new Map<string, ((event: { data?: unknown }) => void)[]>();
    constructor() {
        FakeStream.last = this;
    }
    addEventListener(type: string, listener: (event: { data?: unknown }) => void): void {
        this.listeners.set(type, [...(this.listeners.get(type) ?? []), listener]);
    }
    close(): void {}
    say(type: string, data?: unknown): void {
        for (const listener of this.listeners.get(type) ?? []) listener({ data: data === undefined ? undefined : JSON.stringify(data) });
    }
}

/** A program whose job has one head after the other; sheets are answered when the test lets them. */
class FakeProgram {
    head = 'h1';
    asked = 0;
    private readonly waiting: (() => void)[] = [];
    fetch = (_: string, init: { signal?: AbortSignal }): Promise<Response> => {
        this.asked += 1;
        const sheet = { job: { head: this.head, title: '', facts: 0, unit: null }, marks: [], points: [], stations: [], moments: [] };
        return new Promise((answer, fail) => {
            init.signal?.addEventListener('abort', () => fail(new DOMException('', 'AbortError')));
            this.waiting.push(() => answer(Response.json(sheet)));
        });
    };
    answerAll(): void {
        for (const answer of this.waiting.splice(0)) answer();
    }
}

const eventually = (holds: () => void) => vi.waitFor(holds, { timeout: 30_000 });

let program: FakeProgram;
let session: typeof Session;
beforeEach(async () => {
    program = new FakeProgram();
    vi.stubGlobal('fetch', program.fetch);
    vi.stubGlobal('EventSource', FakeStream);
    vi.resetModules();
    ({ session } = await import('../src/state/session.svelte'));
    session.begin();
});
afterEach(() => vi.unstubAllGlobals());

describe('the session', () => {
    it('reads a job again that changed while its first sheet was on the way', async () => {
        program.head = 'h2';
        FakeStream.last.say('open');
        FakeStream.last.say('job', { head: 'h2' });
        program.answerAll();
        await eventually(() => expect(program.asked).toBe(2));
        program.answerAll();
        await eventually(() => expect(session.busy).toBe(false));
        expect(session.sheet?.job.head).toBe('h2');
        expect(program.asked).toBe(2);
    });

    it('asks once when it heard of nothing new', async () => {
        FakeStream.last.say('job', { head: 'h1' });
        program.answerAll();
        await eventually(() => expect(session.busy).toBe(false));
        FakeStream.last.say('job', { head: 'h1' });
        expect(program.asked).toBe(1);
        program.head = 'h3';
        FakeStream.last.say('job', { head: 'h3' });
        program.answerAll();
        await eventually(() => expect(session.sheet?.job.head).toBe('h3'));
    });

    it('follows several works, and waits for none whose end it could not hear', () => {
        const stream = FakeStream.last;
        stream.say('open');
        stream.say('work', { work: 'sheet-1', says: 'Placing', done: 0.5, ended: false });
        stream.say('work', { work: 'vet-2', says: 'Vetting', done: 0.1, ended: false });
        stream.say('work', { work: 'vet-2', says: 'Vetting', done: 1, ended: true });
        expect(session.work?.work).toBe('sheet-1');
        stream.say('error');
        expect(session.work).toBeNull();
        session.retryNow();
        FakeStream.last.say('open');
        expect(session.work).toBeNull();
        FakeStream.last.say('work', { work: 'plan-3', says: 'Planning', done: 0.2, ended: false });
        expect(session.work?.work).toBe('plan-3');
        FakeStream.last.say('work', { work: 'plan-3', says: 'Planning', done: 1, ended: true });
        expect(session.work).toBeNull();
    });
});

import { File as WholeFile } from 'node:buffer';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { kMostKept_bytes, restored, send } from '../src/state/sent_file';

/** What was asked for, and whether the program has the files. */
let sent: string[] = [];
let knows = true;

beforeEach(() => {
    // The document of these tests has files whose bytes cannot be read.
    vi.stubGlobal('File', WholeFile);
    sent = [];
    knows = true;
    vi.stubGlobal('fetch', (path: string, init: { body: unknown }) => {
        sent.push(path);
        if (path.startsWith('/api/files')) {
            knows = true;
            return Promise.resolve(Response.json({ digest: 'abc' }));
        }
        if (!knows) return Promise.resolve(Response.json({ refusal: { kind: 'file-not-kept', says: 'gone' } }, { status: 422 }));
        return Promise.resolve(Response.json({ asked: JSON.parse(String(init.body)) as unknown }));
    });
});
afterEach(() => {
    vi.unstubAllGlobals();
    localStorage.clear();
});

describe('a file kept on the device', () => {
    it('comes back with its name and every byte', async () => {
        const bytes = Uint8Array.from({ length: 600 }, (_, i) => (i * 7) % 256);
        const { kept } = await send(new File([bytes], 'turns é.csv'));
        const again = restored(JSON.parse(JSON.stringify(kept)) as never);
        expect(again?.file.name).toBe('turns é.csv');
        expect([...new Uint8Array(await again!.file.arrayBuffer())]).toEqual([...bytes]);
        expect(again?.digest).toBe('abc');
    });

    it('is none when it is too large, or when what was stored is no file', async () => {
        expect((await send(new File([new Uint8Array(kMostKept_bytes + 1)], 'large.csv'))).kept).toBeNull();
        for (const stored of [null, undefined, {}, { name: 'a', digest: 'b' }, { name: 'a', digest: 'b', base64: '!' }, { name: 1, digest: 'b', base64: '' }]) {
            expect(restored(stored as never)).toBeNull();
        }
    });
});

describe('after the page was loaded again', () => {
    const load = async () => {
        vi.resetModules();
        const { Tools } = await import('../src/tools/tools.svelte');
        const { Planner } = await import('../src/acts/plan/planner.svelte');
        return { tools: new Tools(), planner: new Planner() };
    };

    it('the file of a field check is there, and sent again to a program that forgot it', async () => {
        const before = (await load()).tools;
        await before.give('turns', 'rod', new File(['turn,direction\n0,1\n'], 'turns.csv'));
        expect(sent).toEqual(['/api/files?name=turns.csv', '/api/tools']);

        const after = (await load()).tools;
        expect(after.files.turns?.file.name).toBe('turns.csv');
        knows = false;
        sent = [];
        await after.look('rod');
        expect(sent).toEqual(['/api/tools', '/api/files?name=turns.csv', '/api/tools']);
        expect(after.refused.rod).toBe('');
        expect(after.answers.rod).toMatchObject({ asked: { tables: [{ check: 'turns', digest: 'abc' }] } });

        after.clear('turns');
        expect((await load()).tools.files.turns).toBeUndefined();
    });

    it('the obstacles of a plan are there, and sent again to a program that forgot them', async () => {
        const before = (await load()).planner;
        await before.addFile(new File(['obstacle,kind\n'], 'cores.csv'));
        const after = (await load()).planner;
        expect(after.files.map((f) => f.file.name)).toEqual(['cores.csv']);
        knows = false;
        sent = [];
        expect(await after.plan(null, new AbortController().signal)).toMatchObject({ asked: { files: ['abc'] } });
        expect(sent).toEqual(['/api/plan', '/api/files?name=cores.csv', '/api/plan']);
        after.removeFile(0);
        expect((await load()).planner.files).toEqual([]);
    });
});

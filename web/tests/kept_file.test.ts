import { File as WholeFile } from 'node:buffer';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { fileOf, keptOf, kMostKept_bytes } from '../src/tools/kept_file';

// The document of these tests has files whose bytes cannot be read.
beforeEach(() => vi.stubGlobal('File', WholeFile));
afterEach(() => {
    vi.unstubAllGlobals();
    localStorage.clear();
});

describe('a file kept on the device', () => {
    it('comes back with its name and every byte', async () => {
        const bytes = Uint8Array.from({ length: 600 }, (_, i) => (i * 7) % 256);
        const kept = await keptOf(new File([bytes], 'turns é.csv'), 'd1');
        const again = fileOf(JSON.parse(JSON.stringify(kept)));
        expect(again?.name).toBe('turns é.csv');
        expect([...new Uint8Array(await again!.arrayBuffer())]).toEqual([...bytes]);
        expect(kept?.digest).toBe('d1');
    });

    it('is none when it is too large, or when what was stored is no file', async () => {
        expect(await keptOf(new File([new Uint8Array(kMostKept_bytes + 1)], 'large.csv'), 'd')).toBeNull();
        for (const stored of [null, undefined, {}, { name: 'a', digest: 'b' }, { name: 'a', digest: 'b', base64: '!' }, { name: 1, digest: 'b', base64: '' }]) {
            expect(fileOf(stored as never)).toBeNull();
        }
    });
});

describe('the file of a field check', () => {
    it('is there after the page was loaded again, and sent again to a program that forgot it', async () => {
        const sent: string[] = [];
        let knows = true;
        vi.stubGlobal('fetch', (path: string, init: { body: unknown }) => {
            sent.push(path);
            if (path.startsWith('/api/files')) {
                knows = true;
                return Promise.resolve(Response.json({ digest: 'abc' }));
            }
            if (!knows) return Promise.resolve(Response.json({ refusal: { kind: 'file-not-kept', says: 'gone' } }, { status: 422 }));
            return Promise.resolve(Response.json({ asked: JSON.parse(String(init.body)) as unknown }));
        });
        const load = async () => {
            vi.resetModules();
            return new (await import('../src/tools/tools.svelte')).Tools();
        };
        const before = await load();
        await before.give('turns', 'rod', new File(['turn,direction\n0,1\n'], 'turns.csv'));
        expect(sent).toEqual(['/api/files?name=turns.csv', '/api/tools']);

        const after = await load();
        expect(after.files.turns?.file.name).toBe('turns.csv');
        knows = false;
        sent.length = 0;
        await after.look('rod');
        expect(sent).toEqual(['/api/tools', '/api/files?name=turns.csv', '/api/tools']);
        expect(after.refused.rod).toBe('');
        expect(after.answers.rod).toMatchObject({ asked: { tables: [{ check: 'turns', digest: 'abc' }] } });

        after.clear('turns');
        expect((await load()).files.turns).toBeUndefined();
    });
});

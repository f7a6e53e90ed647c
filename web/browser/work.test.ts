// Work that takes long, and files that come by themselves.

import { readFileSync, writeFileSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { example, ownFolder, run, serve } from './program';
import { axe, kDesk, kPhone, launch, open, overflow } from './screens';

const folder = ownFolder();
const read = (name: string) => readFileSync(join(example, name), 'utf8');
let browser: Browser;
beforeAll(async () => {
    browser = await launch();
});
afterAll(() => browser.close());

/** The first set-up of the day, given again under many names. */
function manySetups(name: string, count: number): string {
    const job = join(folder, `${name}.job`);
    const of = (file: string) => {
        const [head, ...rows] = read(file).trim().split('\n');
        const first = rows.filter((r) => r.startsWith('D1,') && !r.includes(',lay,'));
        const all = Array.from({ length: count }, (_, i) => first.map((r) => r.replace(/^D1,/, `P${String(i + 1).padStart(2, '0')},`))).flat();
        const path = join(folder, `${name}-${file}`);
        writeFileSync(path, `${[head, ...all].join('\n')}\n`);
        return path;
    };
    run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
    run(
        ...['job', 'take', job, '--marks', join(example, 'marks.csv'), '--setups', of('day-setups.csv')],
        ...['--sights', of('day-sights.csv'), '--points', join(example, 'points.csv'), '--unit', 'ft'],
        ...['--instrument', join(example, 'instrument.toml')],
    );
    return job;
}

describe('long work', () => {
    it.each([kPhone, kDesk])('is shown with how far it is, and can be stopped and gone on with, on a $name', async (screen) => {
        const served = await serve(manySetups(`long-${screen.name}`, 48), '--port', '0');
        const { page, close, complaints } = await open(browser, served.address, screen);
        const stop = page.getByRole('button', { name: 'Stop', exact: true });
        await stop.waitFor({ timeout: 20_000 });
        expect(await page.locator('section[aria-label=State]').innerText()).toMatch(/Placing P\d\d/);
        const progress = page.getByRole('progressbar', { name: 'How far it is' });
        const far = await progress.evaluate((e) => (e as HTMLProgressElement).value);
        expect(far).toBeGreaterThanOrEqual(0);
        expect(far).toBeLessThan(1);
        expect(await overflow(page)).toBeLessThanOrEqual(0);
        await stop.click();
        await page.getByText('Stopped.').waitFor();
        expect(await stop.count()).toBe(0);
        expect(await axe(page)).toEqual([]);
        await page.getByRole('button', { name: 'Work it out' }).click();
        await page.locator('article.verdict .because').filter({ hasText: /\w/ }).waitFor({ timeout: 40_000 });
        await expect.poll(() => page.locator('select').first().locator('option').count()).toBe(48);
        expect(complaints.filter((c) => !c.includes('422'))).toEqual([]);
        await close();
        await served.stop();
    });
});

describe('the inbox', () => {
    it('is spoken of on the page: what was taken and what waits for its unit', async () => {
        const job = join(folder, 'inbox.job');
        const inbox = join(folder, 'inbox');
        mkdirSync(inbox);
        run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
        const served = await serve(job, '--port', '0', '--inbox', inbox);
        const { page, close, complaints } = await open(browser, served.address, kPhone);
        await page.getByText('Import the control sheet first').waitFor();
        writeFileSync(join(inbox, 'marks.csv'), read('marks.csv'));
        await page.getByText(/new entries arrived/).first().waitFor();
        writeFileSync(join(inbox, 'points.csv'), read('points.csv').replaceAll(' [ft]', ''));
        writeFileSync(join(inbox, 'broken.csv'), read('marks.csv').replace('5243.870', '52x3.870'));
        await page.getByText(/new in the inbox: see Import/).waitFor();
        await page.getByRole('button', { name: 'Import', exact: true }).click();
        const list = page.locator('dialog details');
        await list.locator('summary').click();
        await expect.poll(() => list.locator('li').count()).toBe(3);
        const text = (await list.innerText()).replaceAll('\n', ' ');
        expect(text).toMatch(/marks\.csv\s+taken/);
        expect(text).toMatch(/broken\.csv\s+not taken/);
        expect(text).toContain('52x3.870');
        expect(await axe(page)).toEqual([]);
        expect(complaints).toEqual([]);
        await close();
        await served.stop();
    });
});

describe('another crew', () => {
    it('leaves a moment in the strip when its file is merged', async () => {
        const job = join(folder, 'merged.job');
        const other = join(folder, 'evening.job');
        run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
        run('job', 'take', job, '--marks', join(example, 'marks.csv'));
        run('job', 'give', job, '--out', other);
        run('job', 'take', other, '--points', join(example, 'points.csv'));
        const served = await serve(job, '--port', '0');
        const { page, close } = await open(browser, served.address, kDesk);
        await page.getByText('Set the instrument up').waitFor();
        run('job', 'merge', job, other);
        await expect.poll(() => page.locator('.strip .says').innerText()).toMatch(/Merged evening\.job: \d+ entries/);
        expect(await page.locator('.strip .tick.merge').count()).toBe(1);
        await close();
        await served.stop();
    });
});

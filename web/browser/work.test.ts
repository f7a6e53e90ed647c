// Work that takes long, and files that come by themselves.

import { readFileSync, writeFileSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { lastingJob } from './lasting';
import { example, ownFolder, run, serve } from './program';
import { axe, kDesk, kPhone, launch, open, overflow } from './screens';

const folder = ownFolder();
const read = (name: string) => readFileSync(join(example, name), 'utf8');
let browser: Browser;
beforeAll(async () => {
    browser = await launch();
});
afterAll(() => browser.close());

/** The state line while work goes on: what is done, how far it is, and the button that ends it. */
async function expectShown(page: Page, says: RegExp): Promise<void> {
    const stop = page.getByRole('button', { name: 'Stop', exact: true });
    await stop.waitFor();
    const state = page.locator('section[aria-label=State]');
    expect(await state.innerText()).toMatch(says);
    const far = await state.getByRole('progressbar', { name: 'How far it is' }).evaluate((e) => (e as HTMLProgressElement).value);
    expect(far).toBeGreaterThanOrEqual(0);
    expect(far).toBeLessThan(1);
    expect(await overflow(page)).toBeLessThanOrEqual(0);
}

async function stop(page: Page): Promise<void> {
    const button = page.getByRole('button', { name: 'Stop', exact: true });
    await button.click();
    await page.getByText('Stopped.').waitFor();
    expect(await button.count()).toBe(0);
    expect(await axe(page)).toEqual([]);
}

// What a page is told depends on when it asks: all set-ups together come before each, or after.
const kPlacing = /Placing P\d\d|Weighing all \d+ set-ups/;
const kWeighing = /Weighing 6 marks|Weighing all \d+ set-ups/;

describe('long work', () => {
    // As many set-ups as a sheet places; what each costs grows with its sights.
    const kSetups = 48;
    let placing: string;
    let weighing: string;
    beforeAll(() => {
        placing = lastingJob(folder, 'placing', 'station', { setups: kSetups, rounds: 3 }, (size, times) => ({
            ...size,
            rounds: Math.ceil(size.rounds * times),
        }));
        weighing = lastingJob(folder, 'weighing', 'vet', { setups: 100, rounds: 1 }, (size, times) => ({
            ...size,
            setups: Math.ceil(size.setups * Math.sqrt(times)),
        }));
    }, 900_000);

    it.each([kPhone, kDesk])('is shown with how far it is, and can be stopped and gone on with, on a $name', async (screen) => {
        const served = await serve(placing, '--port', '0');
        const { page, close, complaints } = await open(browser, served.address, screen);
        await expectShown(page, kPlacing);
        await stop(page);
        await page.getByRole('button', { name: 'Work it out' }).click();
        await page.locator('article.verdict .because').filter({ hasText: /\w/ }).waitFor({ timeout: 600_000 });
        await expect.poll(() => page.locator('select').first().locator('option').count()).toBe(kSetups);
        expect(complaints.filter((c) => !c.includes('422'))).toEqual([]);
        await close();
        await served.stop();
    }, 900_000);

    it('is told to a page that is opened in the middle of it, and ended for all by one', async () => {
        const served = await serve(placing, '--port', '0');
        const one = await open(browser, served.address, kDesk);
        await expectShown(one.page, kPlacing);
        const other = await open(browser, served.address, kPhone);
        await expectShown(other.page, kPlacing);
        await stop(other.page);
        await one.page.getByText('Stopped.').waitFor();
        await one.close();
        await other.close();
        await served.stop();
    }, 900_000);

    it.each([kPhone, kDesk])('of vetting is shown, stopped and done again, on a $name', async (screen) => {
        const served = await serve(weighing, '--port', '0');
        const { page, close, complaints } = await open(browser, served.address, screen);
        await page.locator('article.verdict[aria-busy="false"]').waitFor();
        await page.locator('nav button:visible', { hasText: 'Vet' }).first().click();
        await expectShown(page, kWeighing);
        await stop(page);
        await page.getByRole('button', { name: 'Work it out' }).click();
        await expectShown(page, kWeighing);
        const rows = page.getByRole('region', { name: 'Marks and what holds them' }).locator('tbody tr');
        await rows.first().waitFor({ timeout: 600_000 });
        expect(await rows.count()).toBe(6);
        await page.locator('article.verdict[aria-busy="false"]').waitFor();
        expect(await page.getByRole('button', { name: 'Stop', exact: true }).count()).toBe(0);
        expect(complaints.filter((c) => !c.includes('422'))).toEqual([]);
        await close();
        await served.stop();
    }, 900_000);
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

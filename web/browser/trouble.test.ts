// What goes wrong on a site: no answer from the program, other people's names, a strange device.

import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { example, ownFolder, run, serve } from './program';
import { axe, kDesk, kPhone, launch, open, overflow, view } from './screens';

const folder = ownFolder();
let browser: Browser;
beforeAll(async () => {
    browser = await launch();
});
afterAll(() => browser.close());

function dayJob(name: string): string {
    const job = join(folder, `${name}.job`);
    const file = (of: string) => join(example, of);
    run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
    run(
        ...['job', 'take', job, '--marks', file('marks.csv'), '--setups', file('day-setups.csv')],
        ...['--sights', file('day-sights.csv'), '--points', file('points.csv'), '--grid', file('grid.csv')],
        ...['--instrument', file('instrument.toml'), '--unit', 'ft'],
    );
    return job;
}

describe('the program', () => {
    it('shows the site each time it is opened, and how long that took is told', async () => {
        const served = await serve(dayJob('paint'), '--port', '0');
        const shown_ms: number[] = [];
        for (let i = 0; i < 4; i++) {
            const { page, close, complaints } = await open(browser, served.address, kDesk);
            await page.locator('article.verdict .because').waitFor();
            shown_ms.push(Math.round(await page.evaluate(() => performance.now())));
            expect(complaints).toEqual([]);
            await close();
        }
        console.log(`plan and verdict shown after ${shown_ms.join(', ')} ms`);
        await served.stop();
    });

    it('is missed when it ends, keeps what was typed, and is found again', async () => {
        const job = dayJob('lost');
        let served = await serve(job, '--port', '0');
        const { port } = served;
        const { page, close } = await open(browser, served.address, kPhone);
        await page.locator('article.verdict .because').waitFor();
        await page.locator('nav.thumb').getByRole('button', { name: 'Book' }).tap();
        await page.locator('.pad').getByRole('button', { name: '7', exact: true }).tap();
        await page.locator('.pad').getByRole('button', { name: '5', exact: true }).tap();
        await page.keyboard.press('Escape');
        await served.stop();
        await page.getByText('layproof is not answering').first().waitFor();
        expect(await page.getByText('what you typed is kept here').first().isVisible()).toBe(true);

        // What another crew records meanwhile is there when the program is back.
        run('job', 'decide', job, 'set-aside', 'D2:H6', '--reason', 'rod leaned', '--initials', 'AB');
        // Somebody else on this machine may have the port for a moment.
        served = await vi.waitFor(() => serve(job, '--port', String(port)), { timeout: 60_000, interval: 500 });
        await page.getByText(/layproof answers again|new entr(y|ies) arrived/).first().waitFor();
        await page.getByText('rod leaned').first().waitFor();
        await page.reload();
        await page.locator('article.verdict .because').waitFor();
        await page.locator('nav.thumb').getByRole('button', { name: 'Book' }).tap();
        expect(await page.getByRole('button', { name: /^direction/ }).innerText()).toContain('75');
        await close();
        await served.stop();
    });

    it('tells at once what others record, and nothing on the page moves', async () => {
        const job = dayJob('news');
        const served = await serve(job, '--port', '0');
        const { page, close, complaints } = await open(browser, served.address, kDesk);
        await page.locator('article.verdict .because').waitFor();
        // Reading the table of sights.
        await page.locator('[aria-label="Sights with residuals"]').evaluate((e) => e.scrollIntoView());
        const places = () =>
            page.evaluate(() => [
                ...[...document.querySelectorAll('.drawing, .strip, .slot, #tables thead')].map((e) => {
                    const box = e.getBoundingClientRect();
                    return e.closest('#tables') && e.closest('[aria-label="Sights with residuals"]') === null
                        ? ''
                        : `${Math.round(box.x)} ${Math.round(box.y)}`;
                }),
            ]);
        const before = await places();
        run('job', 'decide', job, 'set-aside', 'D2:H6#1', '--reason', 'rod leaned', '--initials', 'AB');
        await page.getByText(/new entry arrived/).first().waitFor();
        expect(await places()).toEqual(before);
        expect(complaints).toEqual([]);
        await close();
        await served.stop();
    });
});

describe('names', () => {
    const names = ['<img src=x onerror="window.hit=1">', '"quoted" & \'so\'', 'نقطة ١', '🏗️ crane', '</script><b>x'];

    it('are shown and never run', async () => {
        const job = join(folder, 'names.job');
        run('job', 'new', job, '--title', '<script>window.hit=1</script>', '--crew', '"><img src=x onerror=hit=1>');
        const rows = (head: string, list: string[]) => `${head}\n${list.join('\n')}\n`;
        const quote = (name: string) => `"${name.replaceAll('"', '""')}"`;
        const marks = join(folder, 'marks.csv');
        const points = join(folder, 'points.csv');
        writeFileSync(
            marks,
            rows(
                'mark,east [m],north [m],height [m],note',
                names.map((n, i) => `${quote(n)},${100 + 30 * Math.cos(i)},${100 + 30 * Math.sin(i)},10,<b>note</b>`),
            ),
        );
        writeFileSync(
            points,
            rows(
                'point,east [m],north [m],height [m],element',
                names.map((n, i) => `${quote(n)},${95 + 3 * i},100,10,<i>rod</i>`),
            ),
        );
        run('job', 'take', job, '--marks', marks, '--points', points, '--revision', '<u>C</u>');
        const served = await serve(job, '--port', '0');
        const { page, close, complaints } = await open(browser, served.address, kDesk);
        await page.getByText('<script>window.hit=1</script>').first().waitFor();
        await page.getByRole('application').focus();
        const shown: string[] = [];
        for (let i = 0; i < names.length; i++) {
            await page.keyboard.press('n');
            shown.push(await page.locator('.slot .name bdi').innerText());
        }
        expect(shown.sort()).toEqual([...names].sort());
        for (const name of ['Lay', 'Watch', 'Station'] as const) await view(page, name);
        expect(await page.evaluate(() => (window as { hit?: number }).hit)).toBeUndefined();
        expect(complaints).toEqual([]);
        expect(await overflow(page)).toBeLessThanOrEqual(0);
        await close();
        await served.stop();
    });
});

describe('keys alone', () => {
    it('reach the views, the plan, the tables, and choose a point', async () => {
        const served = await serve(dayJob('keys'), '--port', '0');
        const { page, close, complaints } = await open(browser, served.address, kDesk);
        await page.locator('article.verdict .because').waitFor();
        await page.keyboard.press('Tab');
        expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Skip to the answer');
        await page.keyboard.press('Tab');
        await page.keyboard.press('Enter');
        expect(await page.evaluate(() => document.activeElement?.id)).toBe('tables');
        await page.keyboard.press('Tab');
        expect(await page.evaluate(() => document.activeElement?.closest('#tables') !== null)).toBe(true);

        const plan = page.getByRole('application');
        await plan.focus();
        const bar = () => page.locator('.bars .bar').first().innerText();
        const before = await bar();
        for (let i = 0; i < 3; i++) await page.keyboard.press('+');
        await expect.poll(bar).not.toBe(before);
        await page.keyboard.press('ArrowLeft');
        await page.keyboard.press('0');
        await expect.poll(bar).toBe(before);
        await page.keyboard.press('n');
        const name = await page.locator('.slot .name b').innerText();
        await page.keyboard.press('Escape');
        expect(await page.locator('.slot').innerText()).not.toContain(name);
        await page.getByRole('button', { name: 'Import', exact: true }).focus();
        await page.keyboard.press('Enter');
        await page.locator('dialog').waitFor();
        await page.keyboard.press('Escape');
        await page.locator('dialog').waitFor({ state: 'detached' });
        expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Import');
        expect(complaints).toEqual([]);
        await close();
        await served.stop();
    });

    it('a point chosen in the plan is chosen in the table, and the other way round', async () => {
        const served = await serve(dayJob('choice'), '--port', '0');
        const { page, close } = await open(browser, served.address, kDesk);
        await page.locator('article.verdict .because').waitFor();
        await page.locator('#tables').getByRole('button', { name: 'H3', exact: true }).first().click();
        expect(await page.locator('.slot').innerText()).toMatch(/mark\s+H3/);
        expect(await page.locator('tr.chosen').count()).toBeGreaterThan(1);
        // A finger that goes over the upper part of the plan meets one of the two marks there.
        await page.keyboard.press('Escape');
        const canvas = page.locator('.stage canvas');
        const box = (await canvas.boundingBox())!;
        let found = '';
        for (let y = 50; y < 130 && found === ''; y += 16) {
            for (let x = 60; x < box.width - 90 && found === ''; x += 20) {
                await page.mouse.click(box.x + x, box.y + y);
                const text = await page.locator('.slot').innerText();
                found = /mark\s+(H[35])/.exec(text)?.[1] ?? '';
            }
        }
        expect(found).not.toBe('');
        await expect.poll(() => page.locator('tr.chosen').count()).toBeGreaterThan(0);
        await close();
        await served.stop();
    });
});

describe('a strange device', () => {
    it('is asked for the code, refused with a wrong one, and let in with the right one', async () => {
        const served = await serve(dayJob('pair'), '--port', '0', '--listen', '127.0.0.1');
        const { page, close } = await open(browser, served.address, kPhone);
        await page.getByRole('heading', { name: 'Pair this device' }).waitFor();
        expect(await axe(page)).toEqual([]);
        const code = /Pairing code: (\d{6})/.exec(served.said())![1]!;
        await page.getByLabel('Code').fill(code === '000000' ? '000001' : '000000');
        await page.getByRole('button', { name: 'Pair', exact: true }).click();
        await expect.poll(() => page.locator('.says').innerText()).not.toBe('');
        await page.getByLabel('Code').fill(code);
        await page.getByRole('button', { name: 'Pair', exact: true }).click();
        await page.locator('article.verdict .because').waitFor();
        await page.reload();
        await page.locator('article.verdict .because').waitFor();
        await close();
        await served.stop();
    });
});

describe('the files of the page', () => {
    it('hold nothing that the policy of the program would have to allow', async () => {
        const served = await serve(dayJob('policy'), '--port', '0');
        const html = await (await fetch(served.address)).text();
        await served.stop();
        expect(html).toContain('<script');
        expect(html).not.toMatch(/<script(?![^>]*\ssrc=)/);
        expect(html).not.toMatch(/<style|\sstyle=/);
        expect(html).not.toMatch(/https?:\/\//);
    });
});

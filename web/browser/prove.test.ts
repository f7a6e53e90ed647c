// The whole job on each screen: a mark moved between two days, what was laid meanwhile, and the
// record opened. What the page shows is what `layproof prove --json` gives for the same job.

import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { shownFor } from '../src/format/length';
import { showPercentShort } from '../src/format/percent';
import type { ProveAnswer } from '../src/generated/acts';
import { likelyCauses, likelyMoves, movedWhen, shiftWords } from '../src/acts/prove/prove';
import { example, run, runJson } from './program';
import { axe, expectReadableInEveryLight, overflow, view } from './screens';
import { onEachScreen } from './steps';

const shown = shownFor('ft', null);
const read = (name: string) => readFileSync(join(example, name), 'utf8');

/** The first set-up again, a day later, with one mark seen off to the side. */
function nextDay(file: string): string {
    const [head, ...rows] = read(file).trim().split('\n');
    const again = rows
        .filter((r) => r.startsWith('D1,') && !r.includes(',lay,'))
        .map((r) => {
            const later = r.replace(/^D1,/, 'E1,').replaceAll('2031-05-15', '2031-05-16');
            if (!later.startsWith('E1,H2,')) return later;
            // 2' at 170 ft, a tenth of a foot: far above what is detectable.
            return later.replace(/^(E1,H2,)(\d+)-(\d+)-/, (_, start: string, d: string, m: string) => {
                const minutes = Number(d) * 60 + Number(m) + 2;
                return `${start}${Math.floor(minutes / 60)}-${String(minutes % 60).padStart(2, '0')}-`;
            });
        });
    return `${[head, ...again].join('\n')}\n`;
}

onEachScreen(
    'the whole job',
    (opened) => {
        const { job } = opened;
        let cli: ProveAnswer;

        it('is one verdict, the same as on the command line', async () => {
            const { page } = opened;
            await view(page, 'Prove');
            cli = runJson<ProveAnswer>('prove', '--job', job);
            const card = page.getByRole('article', { name: 'The whole job' });
            await card.getByText(cli.verdict.because, { exact: true }).waitFor();
            expect(await card.locator('.word').innerText()).toBe(cli.verdict.word);
            expect(await card.locator('.share').innerText()).toContain(showPercentShort(cli.verdict.probability));
            const tables = await page.locator('#tables').innerText();
            for (const c of likelyCauses(cli).shown) expect(tables).toContain(c.says);
            expect(tables).toContain(`${cli.points_proven} proven, ${cli.points_in_doubt} in doubt, ${cli.points_fail} fail`);
            expect(await overflow(page)).toBeLessThanOrEqual(0);
            expect(await axe(page)).toEqual([]);
        });

        it('names the mark that moved, when, how far, and what used it since', async () => {
            const { page } = opened;
            const moves = likelyMoves(cli);
            expect(moves.map((m) => m.point)).toContain('H2');
            const table = page.getByRole('region', { name: 'What moved' });
            expect(await table.locator('tbody tr').count()).toBe(moves.length);
            for (const [i, m] of moves.entries()) {
                const row = await table.locator('tbody tr').nth(i).innerText();
                expect(row).toContain(m.point);
                expect(row).toContain(shiftWords(m, shown));
                expect(row).toContain(movedWhen(m));
            }
            await table.getByRole('button', { name: 'H2', exact: true }).first().click();
            const mark = cli.marks.find((m) => m.mark === 'H2')!;
            await expect.poll(() => page.locator('.slot').innerText()).toMatch(/mark\s+H2/);
            expect(await page.locator('.slot').innerText()).toContain(mark.word);
        });

        it('has a record that opens as paper and as page', async () => {
            const { page } = opened;
            await page.getByRole('button', { name: 'Make the record' }).click();
            const paper = page.getByRole('link', { name: /^Open the paper/ });
            await paper.waitFor();
            const href = (await paper.getAttribute('href'))!;
            const got = await page.evaluate(async (path) => {
                const answer = await fetch(path);
                const bytes = new Uint8Array(await answer.arrayBuffer());
                return { type: answer.headers.get('Content-Type'), begin: String.fromCharCode(...bytes.slice(0, 5)), size: bytes.length };
            }, href);
            expect(got.type).toBe('application/pdf');
            expect(got.begin).toBe('%PDF-');
            expect(got.size).toBeGreaterThan(5000);
            const [sheet] = await Promise.all([
                page.context().waitForEvent('page'),
                page.getByRole('link', { name: /^Open the page/ }).click(),
            ]);
            await sheet.waitForLoadState();
            expect(await sheet.locator('h1').first().innerText()).not.toBe('');
            expect(await sheet.locator('body').innerText()).toContain('H2');
            await sheet.close();
            await page.locator('section[aria-label="The record"] summary').click();
            expect(await page.locator('section[aria-label="The record"] a[download]').count()).toBeGreaterThan(2);
            const other = await page.evaluate((path) => fetch(path).then((a) => a.status), href.replace(/[0-9a-f]{32}/, '0'.repeat(32)));
            expect(other).toBe(404);
            expect(await axe(page)).toEqual([]);
        });

        it('says when the job has changed since the record', async () => {
            const { page } = opened;
            run('job', 'decide', job, 'set-aside', 'D1:H6#1', '--reason', 'rod leaned', '--initials', 'AB');
            await page.getByText('The job has changed since this record was made').waitFor();
        });

        it('passes in light, dark and sun, without a complaint', async () => {
            const { page, complaints } = opened;
            await expectReadableInEveryLight(page);
            expect(complaints.filter((c) => !c.includes('422') && !c.includes('404'))).toEqual([]);
        });
    },
    {
        prepare: ({ job, folder, screen }) => {
            const path = (name: string) => join(folder, `${screen.name}-${name}`);
            const file = (name: string) => join(example, name);
            writeFileSync(path('next-sights.csv'), nextDay('day-sights.csv'));
            writeFileSync(path('next-setups.csv'), nextDay('day-setups.csv'));
            run(
                ...['job', 'take', job, '--marks', file('marks.csv'), '--points', file('points.csv'), '--unit', 'ft'],
                ...['--setups', file('day-setups.csv'), '--sights', file('day-sights.csv'), '--instrument', file('instrument.toml')],
            );
            run('job', 'take', job, '--unit', 'ft', '--setups', path('next-setups.csv'), '--sights', path('next-sights.csv'));
        },
    },
);

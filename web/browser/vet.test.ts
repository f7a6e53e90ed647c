// Control that was handed over, judged on each screen: the sheet imported, first on paper alone, then
// with what was measured, then against another revision. What the page shows is what
// `layproof vet --json` gives for the same job.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import { shownFor } from '../src/format/length';
import { showPercentShort } from '../src/format/percent';
import type { VetAnswer } from '../src/generated/acts';
import { evidenceWords, foundShift, likely, trapGroups, trapWords } from '../src/acts/vet/vet';
import { drop, eventually, nextMoment, take } from './crew';
import { example, run, runJson } from './program';
import { axe, expectReadableInEveryLight, overflow, view } from './screens';
import { onEachScreen } from './steps';

const read = (name: string) => readFileSync(join(example, name), 'utf8');
const shown = shownFor('ft', null);
/** The page says of the control what the command line says. */
async function expectSame(page: Page, cli: VetAnswer): Promise<void> {
    const card = page.getByRole('article', { name: 'Control' });
    await card.getByText(cli.verdict.because).waitFor();
    await eventually(async () => {
        expect(await card.locator('.word').innerText()).toBe(cli.verdict.word);
        expect(await card.locator('.share').innerText()).toContain(showPercentShort(cli.verdict.probability));
        expect(await card.innerText()).toContain(cli.verdict.next);
        const rows = page.getByRole('region', { name: 'Marks and what holds them' }).locator('tbody tr');
        expect(await rows.count()).toBe(cli.marks.length);
        for (const m of cli.marks) {
            const row = await rows.filter({ has: page.getByRole('button', { name: m.mark, exact: true }) }).innerText();
            expect(row).toContain(m.word);
            expect(row).toContain(showPercentShort(m.probability));
            expect(row).toContain(evidenceWords(m));
            expect(row).toContain(foundShift(m, shown));
        }
        const tables = await page.locator('#tables').innerText();
        for (const e of likely(cli.explanations).shown) expect(tables).toContain(e.says);
        const groups = trapGroups(cli.traps);
        for (const t of [...groups.unseen, ...groups.weak]) {
            expect(tables).toContain(trapWords(t.trap));
            expect(tables).toContain(t.says);
        }
    });
}

onEachScreen('control', (opened) => {
    const { screen, job } = opened;

    it('an empty job asks for the control sheet', async () => {
        const { page } = opened;
        await view(page, 'Vet');
        await page.getByText('Import the control sheet first').waitFor();
        expect(await axe(page)).toEqual([]);
    });

    it('a sheet is imported with its unit asked for, and paper alone proves no mark', async () => {
        const { page } = opened;
        await drop(page, screen, [{ name: 'marks.csv', text: read('marks.csv').replaceAll(' [ft]', '') }]);
        await page.getByText('Which is it?').waitFor();
        await page.getByRole('radio', { name: /^feet/ }).check();
        await page.getByRole('textbox', { name: 'Revision' }).fill('B');
        await page.locator('dialog .state.ok').waitFor();
        await take(page);
        const cli = runJson<VetAnswer>('vet', '--job', job);
        expect(cli.marks.filter((m) => m.word === 'proven')).toEqual([]);
        await expectSame(page, cli);
        expect(await axe(page)).toEqual([]);
    });

    it('what was measured is seen as it is taken, and judged as on the command line', async () => {
        const { page } = opened;
        run(
            ...['job', 'take', job, '--unit', 'ft', '--sights', join(example, 'day-sights.csv')],
            ...['--setups', join(example, 'day-setups.csv'), '--instrument', join(example, 'instrument.toml')],
        );
        const cli = runJson<VetAnswer>('vet', '--job', job);
        const words = cli.marks.map((m) => m.word);
        expect(words.filter((w) => w === 'proven').length).toBeGreaterThanOrEqual(4);
        expect(words).toContain('in doubt');
        await expectSame(page, cli);
        const worst = [...cli.measured].sort((a, b) => Math.abs(b.standardised!) - Math.abs(a.standardised!))[0]!;
        const first = page.getByRole('region', { name: 'Measurements against the marks' }).locator('tbody tr').first();
        expect(await first.innerText()).toContain(`${Math.abs(worst.standardised!).toFixed(1)} sd`);
        expect(await overflow(page)).toBeLessThanOrEqual(0);
        expect(await axe(page)).toEqual([]);
    });

    it('a mark chosen in the table is chosen on the plan, and the other way round', async () => {
        const { page } = opened;
        const table = page.getByRole('region', { name: 'Marks and what holds them' });
        const name = (mark: string) => table.getByRole('button', { name: mark, exact: true });
        const chosen = page.locator('.slot');
        await name('H4').click();
        await expect.poll(() => chosen.innerText()).toMatch(/mark\s+H4/);
        expect(await chosen.innerText()).toContain('in doubt');
        expect(await chosen.innerText()).toContain('nothing measured');
        // The keyboard steps through the plan; the table follows.
        await page.getByRole('application').focus();
        await page.keyboard.press('n');
        await expect.poll(() => name('H5').getAttribute('aria-pressed')).toBe('true');
        expect(await name('H4').getAttribute('aria-pressed')).toBe('false');
        expect(await chosen.innerText()).toContain('proven');
        await page.keyboard.press('Escape');
        await expect.poll(() => name('H5').getAttribute('aria-pressed')).toBe('false');
    });

    it('another revision is held against what was measured', async () => {
        const { page } = opened;
        await nextMoment(page);
        const other = read('marks.csv').replace('5243.870', '5243.970').replace('10190.548', '10190.448');
        await drop(page, screen, [{ name: 'marks-c.csv', text: other }]);
        await page.getByRole('textbox', { name: 'Revision' }).fill('C');
        await page.locator('dialog .state.ok').waitFor();
        await take(page);
        const cli = runJson<VetAnswer>('vet', '--job', job);
        expect(cli.lists).toHaveLength(2);
        expect(cli.verdict.word).toBe('fails');
        await expectSame(page, cli);
        const rows = page.getByRole('region', { name: 'Differences between lists' }).locator('tbody tr');
        expect(await rows.count()).toBe(cli.differences.length);
        expect(await rows.first().innerText()).toMatch(/0\.100 ft/);
        expect(await page.getByRole('region', { name: 'Lists', exact: true }).innerText()).toContain('revision C');
        expect(await overflow(page)).toBeLessThanOrEqual(0);
    });

    it('an earlier moment is judged as it was known then', async () => {
        const { page } = opened;
        await page.getByRole('slider', { name: 'Moment shown' }).focus();
        await page.keyboard.press('ArrowLeft');
        await page.getByText(/^As known on/).waitFor();
        await expect.poll(() => page.getByRole('region', { name: 'Differences between lists' }).count()).toBe(0);
        await page.getByRole('button', { name: 'Back to now' }).click();
        await page.getByRole('region', { name: 'Differences between lists' }).waitFor();
    });

    it('passes in light, dark and sun, without a complaint', async () => {
        const { page, complaints } = opened;
        await expectReadableInEveryLight(page);
        expect(complaints.filter((c) => !c.includes('422'))).toEqual([]);
    });
});

// The invented day, done by hand on each screen: the job begun, sheets imported, the set-up named,
// its sights typed, one of them by mistake, the rest imported, and the answers read. What the page
// shows is what the command line gives for the same job, and for the same files without a page.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { showDms } from '../src/format/angle';
import { showPercent, showPercentShort } from '../src/format/percent';
import type { LayAnswer, StationAnswer, WatchAnswer } from '../src/generated/acts';
import { bookSight, drop, take, type TypedSight } from './crew';
import { example, runJson } from './program';
import { axe, overflow, view } from './screens';
import { onEachScreen } from './steps';

const read = (name: string) => readFileSync(join(example, name), 'utf8');
function typed(): TypedSight[] {
    return read('day-sights.csv')
        .trim()
        .split('\n')
        .slice(1)
        .map((line) => line.split(','))
        .filter((f) => f[0] === 'D1' && f[6] === 'control')
        .map((f) => ({
            target: f[1] ?? '',
            direction: f[2] ?? '',
            zenith: f[3] ?? '',
            distance: f[4] ?? '',
            rod: f[5] ?? '',
            purpose: 'control',
            time: f[8] ?? '',
        }));
}

/** The day's sights without those that are typed on the page. */
function rest(): string {
    return read('day-sights.csv')
        .split('\n')
        .filter((line) => !(line.startsWith('D1,') && line.includes(',control,')))
        .join('\n');
}

onEachScreen('the day', (opened) => {
    const { screen, job } = opened;

    it('an empty job says what to begin with', async () => {
        await opened.page.getByText('Import the control sheet first').waitFor();
        expect(await overflow(opened.page)).toBeLessThanOrEqual(0);
        expect(await axe(opened.page)).toEqual([]);
    });

    it('a sheet without its unit is asked for it, a broken one is refused with its place', async () => {
        const { page } = opened;
        const marks = read('marks.csv').replaceAll(' [ft]', '');
        await drop(page, screen, [{ name: 'broken.csv', text: marks.replace('5243.870', '52x3.870') }]);
        await page.getByText('Which is it?').waitFor();
        expect(await page.getByRole('button', { name: /^Take/ }).isDisabled()).toBe(true);
        await page.getByRole('radio', { name: /^feet/ }).check();
        const refusal = page.locator('dialog .refusal');
        await refusal.waitFor();
        // The refusal of the file before may still stand for a moment.
        await expect.poll(() => refusal.innerText()).toMatch(/line 3/);
        expect(await refusal.innerText()).toContain('52x3.870');
        expect(await axe(page)).toEqual([]);
        await page.getByRole('button', { name: 'Leave out broken.csv' }).click();

        await drop(page, screen, [{ name: 'marks.csv', text: marks }]);
        await page.getByRole('radio', { name: /^feet/ }).check();
        await page.getByRole('textbox', { name: 'Revision' }).fill('B');
        await page.getByRole('textbox', { name: 'Note' }).fill('handed over, invented');
        await page.locator('dialog .state.ok').waitFor();
        await take(page);
    });

    it('points, grid and instrument are taken together', async () => {
        const { page } = opened;
        await drop(
            page,
            screen,
            ['points.csv', 'grid.csv', 'instrument.toml'].map((name) => ({ name, text: read(name) })),
        );
        await expect.poll(() => page.locator('dialog .state.ok').count()).toBe(3);
        await take(page);
        await page.getByText('Set the instrument up').waitFor();
    });

    it('a set-up is named and its sights are typed; the answer follows each', async () => {
        const { page } = opened;
        await page.clock.setFixedTime(new Date('2031-05-15T07:30:00-05:00'));
        await page.getByRole('button', { name: 'New set-up' }).click();
        await page.getByLabel('Name of the station').fill('D1');
        expect(await axe(page)).toEqual([]);
        await page.locator('.pad').getByRole('button', { name: 'Book', exact: true }).click();
        await page.getByText('Sights from D1').waitFor();

        let lastRod: string | null = null;
        for (const [i, sight] of typed().entries()) {
            // Keys under a finger for the first sights; the rest on a keyboard, to save time.
            await bookSight(page, screen.touch && i < 3, sight, lastRod);
            lastRod = sight.rod;
            if (i === 1) {
                // Two marks only: the blind spots keep it in doubt.
                await expect.poll(() => page.locator('dialog header').innerText()).toMatch(/in doubt|fails/);
            }
        }
        const cli = runJson<StationAnswer>('station', '--job', job).stations[0]!;
        expect(cli.sights).toHaveLength(10);
        const head = () => page.locator('dialog header').innerText();
        await expect.poll(head).toContain(cli.verdict.word);
        await expect.poll(head).toContain(showPercent(cli.verdict.probability));
        expect(await axe(page)).toEqual([]);
    });

    it('what no circle has is refused while it is typed', async () => {
        const { page } = opened;
        await page.getByRole('button', { name: /^direction/ }).click();
        await page.keyboard.type('361');
        await expect.poll(() => page.locator('.understood').innerText()).toBe('A circle ends at 360°.');
        await page.keyboard.press('Delete');
    });

    it('a sight booked by mistake is undone by a decision', async () => {
        const { page } = opened;
        const wrong = { ...typed()[0]!, direction: '100-00-00', time: '2031-05-15T07:43:00-05:00' };
        await bookSight(page, false, wrong, wrong.rod);
        await page.locator('dialog').getByRole('button', { name: 'Undo' }).click();
        await page.locator('dialog').getByLabel('Initials').fill('AB');
        await page.getByRole('button', { name: 'Set H1 aside' }).click();
        await page.getByText('booked by mistake').first().waitFor();
        await page.getByRole('button', { name: 'Close', exact: true }).last().click();
        if (await page.locator('dialog').isVisible()) await page.keyboard.press('Escape');
        const cli = runJson<StationAnswer>('station', '--job', job).stations[0]!;
        expect(cli.sights.filter((s) => s.used)).toHaveLength(10);
        await expect.poll(() => page.locator('article.verdict .word').innerText()).toBe(cli.verdict.word);
    });

    it('setting a sight aside shows the effect first and asks for a reason; it can be put back', async () => {
        const { page } = opened;
        await page.getByRole('button', { name: 'Set aside the sight to H2' }).first().click();
        await page.locator('dialog tbody tr').first().getByText(/%/).nth(1).waitFor();
        const tried = runJson<StationAnswer>('station', '--job', job, '--set-aside', 'D1:H2#1=to try');
        expect(await page.locator('dialog').innerText()).toContain(showPercent(tried.stations[0]!.verdict.probability));
        const confirm = page.locator('dialog button.main');
        expect(await confirm.isDisabled()).toBe(true);
        expect(await axe(page)).toEqual([]);
        await page.getByRole('button', { name: 'rod leaned' }).click();
        await page.locator('dialog').getByLabel('Initials').fill('AB');
        await confirm.click();
        await page.getByRole('button', { name: 'Put back the sight to H2' }).first().waitFor();
        expect(await page.locator('#tables').innerText()).toContain('rod leaned');
        await page.getByRole('button', { name: 'Put back the sight to H2' }).first().click();
        await page.getByLabel('Reason in your words').fill('rod was plumb');
        await page.locator('dialog button.main').click();
        await expect.poll(() => page.getByRole('button', { name: 'Put back the sight to H2' }).count()).toBe(0);
    });

    it('the rest of the day is imported, and Watch shows the doubt', async () => {
        const { page } = opened;
        await drop(page, screen, [
            { name: 'day-setups.csv', text: read('day-setups.csv').split('\n').filter((l) => !l.startsWith('D1')).join('\n') },
            { name: 'day-sights.csv', text: rest() },
        ]);
        await expect.poll(() => page.locator('dialog .state.ok').count()).toBe(2);
        await take(page);
        await view(page, 'Watch');
        await page.locator('select').first().selectOption('D2');
        const cli = runJson<WatchAnswer>('watch', '--job', job);
        const day = cli.stations.find((s) => s.station === 'D2')!;
        await page.getByText(day.verdict.because).waitFor();
        expect(day.verdict.word).toBe('fails');
        expect(await page.locator('article.verdict .word').innerText()).toBe('fails');
        expect(await page.locator('article.verdict .share').innerText()).toContain(showPercentShort(day.verdict.probability));
        const tables = await page.locator('#tables').innerText();
        expect(tables).toContain(day.hypotheses[0]!.says);
        expect(tables).toContain(`${day.points_proven} proven, ${day.points_in_doubt} in doubt, ${day.points_fail} fail`);
        expect(await overflow(page)).toBeLessThanOrEqual(0);
    });

    it('Lay gives the figures for setting out', async () => {
        const { page } = opened;
        await view(page, 'Lay');
        const cli = runJson<LayAnswer>('lay', '--job', job);
        await page.getByText(cli.verdict!.because).waitFor();
        // D2 was disturbed: nothing is set out from there.
        const gone = cli.stations.find((s) => s.station === 'D2')!;
        expect(gone.withheld).toBe(true);
        expect(await page.locator('[aria-label="Setting out"]').innerText()).toContain('Nothing is set out from D2.');
        await page.locator('select').first().selectOption('D1');
        await page.getByRole('button', { name: 'Next point' }).click();
        const from = cli.stations.find((s) => s.station === 'D1')!;
        const first = from.setting_out[0]!;
        const card = await page.locator('[aria-label="Setting out"]').innerText();
        expect(card).toContain(`Point ${first.point} from D1`);
        expect(card).toContain(showDms(first.direction_deg!));
        expect(card).toContain(`${first.horizontal!.toFixed(3)} ft`);
        expect(await overflow(page)).toBeLessThanOrEqual(0);
        await page.locator('select').first().selectOption('D2');
    });

    it('an earlier moment shows the page as it was known then', async () => {
        const { page } = opened;
        await view(page, 'Station');
        await page.locator('select').first().selectOption('D1');
        await page.getByRole('slider', { name: 'Moment shown' }).focus();
        await page.keyboard.press('ArrowLeft');
        await page.getByText(/^As known on/).waitFor();
        // Before the rest was imported D2 was not known.
        await expect.poll(() => page.locator('select').first().locator('option').count()).toBe(1);
        expect(await axe(page)).toEqual([]);
        await page.getByRole('button', { name: 'Back to now' }).click();
        await expect.poll(() => page.locator('select').first().locator('option').count()).toBe(2);
    });

    it('the station is that of the same files without a page', async () => {
        const fromFiles = runJson<StationAnswer>(
            'station',
            ...['--marks', 'marks', '--sights', 'day-sights', '--setups', 'day-setups', '--points', 'points'].map((w, i) =>
                i % 2 ? join(example, `${w}.csv`) : w,
            ),
            '--instrument',
            join(example, 'instrument.toml'),
            '--unit',
            'ft',
        );
        const fromJob = runJson<StationAnswer>('station', '--job', job);
        for (const name of ['D1', 'D2']) {
            const a = fromFiles.stations.find((s) => s.station === name)!;
            const b = fromJob.stations.find((s) => s.station === name)!;
            expect(b.pose.east).toBeCloseTo(a.pose.east, 5);
            expect(b.pose.north).toBeCloseTo(a.pose.north, 5);
            expect(b.pose.orientation_deg).toBeCloseTo(a.pose.orientation_deg, 6);
            expect(b.verdict.word).toBe(a.verdict.word);
        }
    });

    it('every view passes in light, dark and sun, without a complaint', async () => {
        const { page, complaints } = opened;
        for (const name of ['Vet', 'Station', 'Lay', 'Watch', 'Prove'] as const) {
            await view(page, name);
            await page.evaluate(() => (document.documentElement.dataset['theme'] = 'light'));
            expect(await axe(page), name).toEqual([]);
            for (const theme of ['dark', 'sun']) {
                await page.evaluate((t) => (document.documentElement.dataset['theme'] = t), theme);
                expect(await axe(page, ['color-contrast']), `${name} ${theme}`).toEqual([]);
            }
            if (screen.name !== 'tablet') {
                const rule = ['color-contrast-enhanced'];
                await page.evaluate(() => (document.documentElement.dataset['theme'] = 'sun'));
                expect(await axe(page, rule), `${name} sun, enhanced`).toEqual([]);
            }
        }
        // A refused file answers 422, which a browser notes as a failed request; nothing else may.
        expect(complaints.filter((c) => !c.includes('422'))).toEqual([]);
    });
});

// What else was handed over or measured about the control, taken from the page on each screen: tapes,
// levels, and a drawing in the building's own coordinates, which is laid on the sheet.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { shownFor, showOffset } from '../src/format/length';
import { showPercentShort } from '../src/format/percent';
import { plain } from '../src/format/plain';
import type { VetAnswer } from '../src/generated/acts';
import { fitWords, likelyScales } from '../src/acts/vet/vet';
import { drop, eventually, take } from './crew';
import { example, run, runJson } from './program';
import { axe, expectReadableInEveryLight, overflow, view } from './screens';
import { onEachScreen } from './steps';

const shown = shownFor('ft', null);
const marks = readFileSync(join(example, 'marks.csv'), 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(','))
    .map(([mark, east, north, height]) => ({ mark: mark!, east: Number(east), north: Number(north), height: Number(height) }));
const pairs = marks.flatMap((a, i) => marks.slice(i + 1).map((b) => [a, b] as const));

// Invented: what a tape and a level would read between the marks of the sheet, a few thousandths off.
const hand = (i: number) => 0.003 * Math.sin(5 * i);
const tapes = [
    'from,to,distance [ft]',
    ...pairs.map(([a, b], i) => `${a.mark},${b.mark},${(Math.hypot(b.east - a.east, b.north - a.north) + hand(i)).toFixed(3)}`),
].join('\n');
const levels = ['from,to,rise [ft]', ...pairs.map(([a, b], i) => `${a.mark},${b.mark},${(b.height - a.height + hand(i + 1)).toFixed(3)}`)].join('\n');

/** The building's zero is at (5030, 10030) of the site, its north turned by 12°, its lengths in metres. */
function drawing(): string {
    const turn = (12 * Math.PI) / 180;
    const rows = marks.map((m) => {
        const [e, n] = [(m.east - 5030) * 0.3048, (m.north - 10030) * 0.3048];
        return `${m.mark},${(e * Math.cos(turn) - n * Math.sin(turn)).toFixed(4)},${(e * Math.sin(turn) + n * Math.cos(turn)).toFixed(4)},`;
    });
    return ['mark,east [m],north [m],height [m]', ...rows].join('\n');
}

onEachScreen(
    'evidence about the control',
    (opened) => {
        const { screen, job } = opened;
        let cli: VetAnswer;

        it('is taken in one go: a tape, a level, and a drawing that is named as one', async () => {
            const { page } = opened;
            await view(page, 'Vet');
            await drop(page, screen, [
                { name: 'tapes.csv', text: tapes },
                { name: 'levels.csv', text: levels },
                { name: 'building.csv', text: drawing() },
            ]);
            const card = (name: string) => page.getByRole('article', { name, exact: true });
            const holds = (name: string) => card(name).getByLabel('It holds');
            await expect.poll(() => page.locator('dialog article[aria-busy="false"]').count()).toBe(3);
            expect(await holds('tapes.csv').inputValue()).toBe('tapes');
            expect(await holds('levels.csv').inputValue()).toBe('levels');
            // A list of marks is taken for a sheet until somebody says that it was drawn.
            expect(await holds('building.csv').inputValue()).toBe('marks');
            await holds('building.csv').selectOption('drawing');
            await expect.poll(() => page.locator('dialog .state.ok').count()).toBe(3);
            expect(await axe(page)).toEqual([]);
            await page.getByRole('button', { name: 'Take 3 files' }).click();
            await page.getByText('Taken into the job').waitFor();
            const taken = page.getByRole('region', { name: 'What was taken' });
            for (const [name, role, rows] of [['tapes.csv', 'tapes', 15], ['levels.csv', 'levels', 15], ['building.csv', 'drawing', 6]]) {
                expect(await taken.locator('tr', { hasText: String(name) }).innerText()).toMatch(new RegExp(`${role}\\s+${rows}\\s+0`));
            }
            await page.getByRole('button', { name: 'Close', exact: true }).click();
        });

        it('is judged as on the command line', async () => {
            const { page } = opened;
            cli = runJson<VetAnswer>('vet', '--job', job);
            const kinds = cli.measured.map((m) => m.kind);
            expect(kinds.filter((k) => k === 'tape')).toHaveLength(15);
            expect(kinds.filter((k) => k === 'level')).toHaveLength(15);
            expect(cli.lists.map((l) => l.kind)).toEqual(['sheet', 'drawing']);
            const control = page.getByRole('article', { name: 'Control' });
            await control.getByText(cli.verdict.because, { exact: true }).waitFor();
            await eventually(async () => {
                expect(await control.locator('.word').innerText()).toBe(cli.verdict.word);
                expect(await control.locator('.share').innerText()).toContain(showPercentShort(cli.verdict.probability));
                const lists = await page.getByRole('region', { name: 'Lists', exact: true }).innerText();
                expect(lists).toMatch(/building\.csv\s+drawing/);
                expect(await page.locator('#tables').innerText()).toContain('Measured: 30');
            });
        });

        it('shows how the drawing lies on the sheet, and what would explain its scale', async () => {
            const { page } = opened;
            expect(cli.fits).toHaveLength(1);
            const fit = cli.fits[0]!;
            expect(fit.list).toBe('building.csv');
            expect(fit.turn_deg).toBeCloseTo(12, 2);
            expect(fit.origin_east).toBeCloseTo(5030 * 0.3048, 3);
            const block = page.locator('section.block', { has: page.getByRole('heading', { name: 'building.csv laid on the first list' }) });
            const text = await block.innerText();
            expect(text).toContain(plain(fit.says));
            for (const warning of fit.warnings) expect(text).toContain(plain(warning));
            expect(text).toContain(`Marks stay off by ${fitWords(fit, shown)}.`);
            const scales = block.getByRole('region', { name: 'What would explain the scale of building.csv' });
            for (const s of likelyScales(fit)) expect(await scales.innerText()).toContain(plain(s.says));
            const rows = block.getByRole('region', { name: 'Misfits of building.csv' }).locator('tbody tr');
            expect(await rows.count()).toBe(fit.misfits.length);
            for (const [i, m] of fit.misfits.entries()) {
                const row = await rows.nth(i).innerText();
                expect(row).toContain(m.mark);
                expect(row).toContain(showOffset(m.east_mm!, shown));
            }
            await rows.first().getByRole('button').click();
            await expect.poll(() => page.locator('.slot').innerText()).toContain(fit.misfits[0]!.mark);
            await page.keyboard.press('Escape');
            expect(await overflow(page)).toBeLessThanOrEqual(0);
            expect(await axe(page)).toEqual([]);
        });

        it('a drawing of another size says what its scale may be', async () => {
            const { page } = opened;
            // In inches, said to be feet.
            const inches = ['mark,east [ft],north [ft],height [ft]', ...marks.map((m) => `${m.mark},${((m.east - 5030) * 12).toFixed(3)},${((m.north - 10030) * 12).toFixed(3)},`)].join('\n');
            await drop(page, screen, [{ name: 'inches.csv', text: inches }]);
            await page.getByRole('article', { name: 'inches.csv' }).getByLabel('It holds').selectOption('drawing');
            await page.locator('dialog .state.ok').waitFor();
            await take(page);
            cli = runJson<VetAnswer>('vet', '--job', job);
            const fit = cli.fits.find((f) => f.list === 'inches.csv')!;
            expect(fit.scale).toBeCloseTo(1 / 12, 4);
            expect(likelyScales(fit)[0]!.kind).not.toBe('none');
            const heading = page.getByRole('heading', { name: 'inches.csv laid on the first list' });
            await heading.waitFor();
            const scales = page.getByRole('region', { name: 'What would explain the scale of inches.csv' });
            await eventually(async () => expect(await scales.innerText()).toContain(plain(likelyScales(fit)[0]!.says)));
            await page.getByRole('article', { name: 'Control' }).getByText(cli.verdict.because, { exact: true }).waitFor();
            expect(await overflow(page)).toBeLessThanOrEqual(0);
        });

        it('passes in light, dark and sun, without a complaint', async () => {
            const { page, complaints } = opened;
            await expectReadableInEveryLight(page);
            expect(complaints.filter((c) => !c.includes('422'))).toEqual([]);
        });
    },
    {
        prepare: ({ job }) => {
            run('job', 'take', job, '--marks', join(example, 'marks.csv'), '--instrument', join(example, 'instrument.toml'), '--unit', 'ft');
        },
    },
);

// Instrument and rod checked before the day, on each screen: readings typed or dropped, the verdict
// of the command line, and the numbers found kept in the job.

import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { shownFor } from '../src/format/length';
import { showPercentShort } from '../src/format/percent';
import type { SheetAnswer, ToolsAnswer } from '../src/generated/acts';
import { findingWords, foundWords } from '../src/tools/checks';
import { eventually, key } from './crew';
import { example, run, runJson } from './program';
import { axe, expectReadableInEveryLight, overflow, view } from './screens';
import { onEachScreen } from './steps';

const shown = shownFor('ft', null);
// Invented: a line of sight 20" off.
const faces: [string, string, string][] = [
    ['1', '10-00-00', '90-00-00'],
    ['1', '190-00-40', '270-00-00'],
    ['2', '80-00-00', '89-30-00'],
    ['2', '260-00-41', '270-30-02'],
    ['3', '200-00-00', '91-00-00'],
    ['3', '20-00-40', '268-59-58'],
];
const csv = `station,target,direction,zenith,slope_distance,target_height\n${faces.map((f) => `here,${f.join(',')},,0`).join('\n')}\n`;
const turns = `turn,direction,zenith,slope_distance [m],target_height [m]
0,0-00-51.6,90-00-00,20.000,1.500
90,0-00-00,90-00-00,19.995,1.500
180,359-59-08.4,90-00-00,20.000,1.500
270,0-00-00,90-00-00,20.005,1.500
`;

onEachScreen(
    'the tools',
    (opened) => {
        const { screen, folder } = opened;
        const path = (name: string) => join(folder, `${screen.name}-${name}`);
        const instrument = () => ['--instrument', join(example, 'instrument.toml'), '--unit', 'ft'];
        const card = (name: string) => opened.page.getByRole('article', { name, exact: true });

        async function expectSame(name: string, cli: ToolsAnswer): Promise<void> {
            const { page } = opened;
            await card(name).getByText(cli.verdict.because, { exact: true }).waitFor();
            await eventually(async () => {
                expect(await card(name).locator('.word').innerText()).toBe(cli.verdict.word);
                expect(await card(name).locator('.share').innerText()).toContain(showPercentShort(cli.verdict.probability));
                const table = page.getByRole('region', { name: 'What was found' });
                expect(await table.locator('tbody tr').count()).toBe(cli.findings.length);
                for (const f of cli.findings) {
                    const row = await table.locator('tbody tr').filter({ hasText: findingWords(f.finding) }).first().innerText();
                    expect(row).toContain(f.word);
                    expect(row).toContain(foundWords(f, shown));
                }
            });
        }

        it('say what to do first', async () => {
            const { page } = opened;
            await view(page, 'Vet');
            await page.getByRole('button', { name: 'Instrument', exact: true }).click();
            await page.getByText('Check it before the day').waitFor();
            expect(await axe(page)).toEqual([]);
            expect(await overflow(page)).toBeLessThanOrEqual(0);
        });

        it('are checked by readings that are typed, with what each error does to a laid point', async () => {
            const { page } = opened;
            await page.getByRole('button', { name: 'Type readings Both faces' }).click();
            const dialog = page.locator('dialog');
            for (const [i, [target, direction, zenith]] of faces.entries()) {
                // Who is sighted goes on by itself: each target in both faces.
                expect(await dialog.getByLabel('Target').inputValue()).toBe(target);
                const byTouch = screen.touch && i < 2;
                await key(page, byTouch, direction);
                await dialog.getByRole('button', { name: /^zenith/ }).click();
                await key(page, byTouch, zenith);
                if (i === 0) expect(await axe(page)).toEqual([]);
                await dialog.locator('.pad').getByRole('button', { name: 'Add', exact: true }).click();
            }
            await dialog.getByText('6 readings').waitFor();
            await dialog.getByRole('button', { name: 'Done' }).click();
            writeFileSync(path('faces.csv'), csv);
            await expectSame('Instrument', runJson<ToolsAnswer>('vet', 'instrument', '--sights', path('faces.csv'), ...instrument()));
            await page.getByLabel('Laid at').selectOption('100');
            await expectSame('Instrument', runJson<ToolsAnswer>('vet', 'instrument', '--sights', path('faces.csv'), '--radius', '100m', ...instrument()));
            expect(await overflow(page)).toBeLessThanOrEqual(0);
            expect(await axe(page)).toEqual([]);
        });

        it('a reading that does not fit is refused in words, and taken out again', async () => {
            const { page } = opened;
            await page.getByRole('button', { name: 'Type readings Lengths in one line' }).click();
            const dialog = page.locator('dialog');
            await key(page, screen.touch, '100.00');
            await dialog.locator('.pad').getByRole('button', { name: 'Add', exact: true }).click();
            await dialog.getByRole('button', { name: 'Done' }).click();
            await card('Instrument').getByText(/three or more points in one line/).waitFor();
            await page.getByRole('region', { name: 'Lengths in one line' }).getByRole('button', { name: /^Take out/ }).click();
            await card('Instrument').locator('.share').waitFor();
        });

        it('what was typed is still there when the page is loaded again', async () => {
            const { page } = opened;
            await page.reload();
            await view(page, 'Vet');
            await page.getByRole('button', { name: 'Instrument', exact: true }).click();
            expect(await page.getByRole('region', { name: 'Readings: Both faces' }).locator('tbody tr').count()).toBe(6);
            await card('Instrument').locator('.share').waitFor();
        });

        it('a rod is checked from a file', async () => {
            const { page } = opened;
            await page.getByRole('button', { name: 'Rod', exact: true }).click();
            writeFileSync(path('turns.csv'), turns);
            if (screen.touch) {
                await page.getByLabel('File of readings').waitFor({ state: 'attached' });
                const choosing = page.waitForEvent('filechooser');
                await page.getByRole('button', { name: 'Choose a file The rod turned' }).click();
                await (await choosing).setFiles(path('turns.csv'));
            } else {
                await page.evaluate((text) => {
                    const transfer = new DataTransfer();
                    transfer.items.add(new File([text], 'turns.csv', { type: 'text/plain' }));
                    document.querySelector('section.check')?.dispatchEvent(new DragEvent('drop', { bubbles: true, cancelable: true, dataTransfer: transfer }));
                }, turns);
            }
            await expectSame('Rod', runJson<ToolsAnswer>('vet', 'rod', '--turns', path('turns.csv'), ...instrument()));
            expect(await axe(page)).toEqual([]);
        });

        it('the file is still there when the page is loaded again', async () => {
            const { page } = opened;
            await page.reload();
            await view(page, 'Vet');
            await page.getByRole('button', { name: 'Rod', exact: true }).click();
            await page.getByRole('region', { name: 'The rod turned' }).getByText('turns.csv').waitFor();
            await expectSame('Rod', runJson<ToolsAnswer>('vet', 'rod', '--turns', path('turns.csv'), ...instrument()));
        });

        it('what was found is kept in the job with its time', async () => {
            const { page } = opened;
            await card('Rod').getByRole('button', { name: 'Keep in the job' }).click();
            await page.getByText(/is kept in the job|are kept in the job/).first().waitFor();
            const kept = await page.evaluate(async () => {
                const answer = await fetch('/api/sheet', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' });
                return ((await answer.json()) as SheetAnswer).checked;
            });
            expect(kept.map((c) => c.finding)).toContain('rod-lean');
            const table = await page.getByRole('region', { name: 'Kept from earlier checks' }).innerText();
            expect(table).toContain('bubble of the rod');
            expect(table).toContain(kept[0]!.says);
            await expect.poll(() => page.locator('.strip .says').innerText()).toMatch(/hecked rod-lean/);
        });

        it('pass in light, dark and sun, without a complaint', async () => {
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

// Takes the pictures of docs/pictures anew, from the invented mill hall and this program.
//
//     LAYPROOF_BINARY=... npm run pictures [name ...]

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { example, run, serve } from '../browser/program.ts';
import { kDesk, kPhone, kTablet, launch, open, view, type Screen } from '../browser/screens.ts';

const into = join(import.meta.dirname, '../../docs/pictures');
const folder = mkdtempSync(join(tmpdir(), 'layproof-pictures-'));
const wanted = process.argv.slice(2);

interface Picture {
    name: string;
    screen: Screen;
    theme?: 'dark' | 'sun';
    take: (page: Page) => Promise<void>;
}

const choose = (page: Page, name: string) => page.locator('#tables').getByRole('button', { name, exact: true }).first().click();
const station = async (page: Page, name: string) => {
    await view(page, 'Station');
    await page.locator('select').first().selectOption(name);
    await page.locator('article.verdict[aria-busy="false"]').waitFor();
};

const pictures: Picture[] = [
    { name: 'page-station', screen: kDesk, take: (page) => station(page, 'D1') },
    { name: 'page-station-dark', screen: kDesk, theme: 'dark', take: (page) => station(page, 'D2') },
    { name: 'page-station-sun', screen: kPhone, theme: 'sun', take: (page) => station(page, 'D1') },
    {
        name: 'page-set-aside',
        screen: kDesk,
        take: async (page) => {
            await station(page, 'D1');
            await page.getByRole('button', { name: 'Set aside the sight to H2' }).first().click();
            await page.locator('dialog tbody tr').first().getByText(/%/).nth(1).waitFor();
        },
    },
    {
        name: 'page-book',
        screen: kPhone,
        take: async (page) => {
            await station(page, 'D2');
            await page.locator('nav.thumb').getByRole('button', { name: 'Book' }).tap();
            await page.locator('dialog button.target').tap();
            await page.locator('.tiles').getByRole('button', { name: /^H4/ }).tap();
            const pad = page.locator('.pad');
            for (const sign of '1234506') await pad.getByRole('button', { name: sign, exact: true }).tap();
            await page.getByRole('button', { name: /^zenith/ }).tap();
            for (const sign of ['9', '0', 'next part of the value', '7', '7']) await pad.getByRole('button', { name: sign, exact: true }).tap();
            await page.getByText('Minutes are below 60.').first().waitFor();
        },
    },
    {
        name: 'page-import',
        screen: kTablet,
        take: async (page) => {
            await page.getByRole('button', { name: 'Import', exact: true }).click();
            const text = readFileSync(join(example, 'marks.csv'), 'utf8').replaceAll(' [ft]', '');
            await page.locator('dialog input[type=file]').setInputFiles({ name: 'marks-rev-c.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
            await page.getByText('Which is it?').waitFor();
        },
    },
    {
        name: 'page-vet',
        screen: kDesk,
        take: async (page) => {
            await view(page, 'Vet');
            await choose(page, 'H4');
        },
    },
    {
        name: 'page-instrument',
        screen: kDesk,
        take: async (page) => {
            await view(page, 'Vet');
            await page.getByRole('button', { name: 'Instrument', exact: true }).click();
            const faces = ['1,10-00-00,90-00-00', '1,190-00-40,270-00-00', '2,80-00-00,89-30-00', '2,260-00-41,270-30-02', '3,200-00-00,61-00-00', '3,20-00-46,298-59-58'];
            const csv = `station,target,direction,zenith,slope_distance,target_height\n${faces.map((f) => `here,${f},,0`).join('\n')}\n`;
            const choosing = page.waitForEvent('filechooser');
            await page.getByRole('button', { name: 'Choose a file Both faces' }).click();
            await (await choosing).setFiles({ name: 'faces.csv', mimeType: 'text/csv', buffer: Buffer.from(csv) });
            await page.getByRole('region', { name: 'What was found' }).waitFor();
        },
    },
    {
        name: 'page-plan',
        screen: kDesk,
        take: async (page) => {
            await view(page, 'Plan');
            await page.getByLabel('Rod').selectOption('0.1');
            await page.locator('article.verdict[aria-busy="false"]').waitFor();
            const choosing = page.waitForEvent('filechooser');
            await page.getByRole('button', { name: 'Choose a file', exact: true }).click();
            await (await choosing).setFiles(['obstacles.csv', 'no-go.csv'].map((name) => join(example, name)));
            await page.getByRole('button', { name: 'Take out no-go.csv' }).waitFor();
            await page.locator('article.verdict[aria-busy="false"]').waitFor();
            await page.getByRole('button', { name: 'Set a tripod on the plan' }).click();
            await page.locator('section[aria-label="The tripod"] .said b').waitFor();
        },
    },
    {
        name: 'page-lay',
        screen: kPhone,
        take: async (page) => {
            await station(page, 'D2');
            await view(page, 'Lay');
            await page.getByRole('button', { name: 'Next point' }).click();
        },
    },
    {
        name: 'page-watch',
        screen: kDesk,
        take: async (page) => {
            await station(page, 'D2');
            await view(page, 'Watch');
        },
    },
    {
        name: 'page-watch-tablet',
        screen: kTablet,
        take: async (page) => {
            await station(page, 'D2');
            await view(page, 'Watch');
        },
    },
    { name: 'page-prove', screen: kDesk, take: (page) => view(page, 'Prove') },
];

async function takeOne(browser: Browser, address: string, picture: Picture): Promise<void> {
    const { page, close } = await open(browser, address, picture.screen);
    page.context().setDefaultTimeout(180_000);
    if (picture.theme) {
        await page.evaluate((theme) => localStorage.setItem('layproof.theme', JSON.stringify(theme)), picture.theme);
        await page.reload();
    }
    await page.locator('article.verdict[aria-busy="false"]').waitFor();
    await picture.take(page);
    await page.locator('article.verdict[aria-busy="false"]').waitFor();
    // The notice of what has just happened gives way to the line that always stands there.
    await page.mouse.move(2, 2);
    await page.waitForTimeout(300);
    await page.screenshot({ path: join(into, `${picture.name}.png`) });
    await close();
    console.log(picture.name);
}

/** What is recorded within a second is one moment of the strip. */
const ownMoment = () => new Promise((done) => setTimeout(done, 1200));
const job = join(folder, 'mill-hall.job');
const file = (name: string) => join(example, name);
run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
run('job', 'take', job, '--marks', file('marks.csv'), '--unit', 'ft', '--revision', 'B');
await ownMoment();
run('job', 'take', job, '--points', file('points.csv'), '--grid', file('grid.csv'), '--instrument', file('instrument.toml'), '--unit', 'ft');
await ownMoment();
run('job', 'take', job, '--setups', file('day-setups.csv'), '--sights', file('day-sights.csv'), '--unit', 'ft');
const served = await serve(job, '--port', '0');
const browser = await launch();
try {
    for (const picture of pictures) {
        if (wanted.length === 0 || wanted.includes(picture.name)) await takeOne(browser, served.address, picture);
    }
} finally {
    await browser.close();
    await served.stop();
    rmSync(folder, { recursive: true, force: true });
}

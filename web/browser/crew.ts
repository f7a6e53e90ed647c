// What a crew does on the page, as the tests do it.

import { expect, vi } from 'vitest';
import type { Page } from 'playwright-core';
import type { Screen } from './screens';

export interface DroppedFile {
    name: string;
    text: string;
}

/** Tries again until all of it holds: what the page shows may still be that of the answer before. */
export function eventually(holds: () => Promise<void>): Promise<void> {
    return vi.waitFor(holds, { timeout: 60_000, interval: 100 });
}

/** Waits until what is recorded next is a moment of its own: within a second it is one with the last. */
export async function nextMoment(page: Page): Promise<void> {
    const kOneMoment_ms = 1000;
    const last = await page.evaluate(async () => {
        const answer = await fetch('/api/sheet', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' });
        const { moments } = (await answer.json()) as { moments: { time: string }[] };
        return moments[moments.length - 1]?.time ?? null;
    });
    if (last === null) return;
    await page.waitForTimeout(Math.max(0, Date.parse(last) + kOneMoment_ms + 100 - Date.now()));
}

/** Drops files on the page, as from a file manager; on the phone through the button. */
export async function drop(page: Page, screen: Screen, files: DroppedFile[]): Promise<void> {
    if (screen.touch) {
        if (!(await page.locator('dialog').isVisible())) await page.getByRole('button', { name: 'Import', exact: true }).click();
        await page
            .locator('dialog input[type=file]')
            .setInputFiles(files.map((f) => ({ name: f.name, mimeType: 'text/plain', buffer: Buffer.from(f.text) })));
        return;
    }
    await page.evaluate((given) => {
        const transfer = new DataTransfer();
        for (const f of given) transfer.items.add(new File([f.text], f.name, { type: 'text/plain' }));
        const on = document.querySelector('dialog .drop') ?? document.body;
        on.dispatchEvent(new DragEvent('drop', { bubbles: true, cancelable: true, dataTransfer: transfer }));
    }, files);
}

/** Takes what was dropped and closes the sheet. */
export async function take(page: Page): Promise<void> {
    await page.getByRole('button', { name: /^Take/ }).click();
    await page.getByText('Taken into the job').waitFor();
    await page.getByRole('button', { name: 'Close', exact: true }).click();
}

/** One value by the keys of the page, or by the keyboard, such as 163-07-10.0 or 125.040. */
export async function key(page: Page, byTouch: boolean, text: string): Promise<void> {
    if (!byTouch) {
        await page.keyboard.type(text);
        return;
    }
    const pad = page.locator('.pad');
    for (const sign of text) {
        const name = sign === '-' ? 'next part of the value' : sign === '.' ? 'decimal point' : sign;
        await pad.getByRole('button', { name, exact: true }).tap();
    }
}

export interface TypedSight {
    target: string;
    purpose: string;
    direction: string;
    zenith: string;
    distance: string;
    rod: string;
    time: string;
}

/** Books a sight on the open entry sheet. The rod is typed only when it differs from the last. */
export async function bookSight(page: Page, byTouch: boolean, sight: TypedSight, lastRod: string | null): Promise<void> {
    await page.clock.setFixedTime(new Date(sight.time));
    const dialog = page.locator('dialog');
    await dialog.getByRole('button', { name: sight.purpose, exact: true }).click();
    await dialog.locator('button.target').click();
    await dialog.locator('.tiles').getByRole('button', { name: new RegExp(`^${sight.target}( ?tells most)?$`) }).click();
    const rows: [string, string][] = [
        ['direction', sight.direction],
        ['zenith', sight.zenith],
        ['slope distance', sight.distance],
        ['rod height', sight.rod],
    ];
    for (const [label, text] of rows) {
        if (label === 'rod height' && lastRod === sight.rod) continue;
        await dialog.getByRole('button', { name: new RegExp(`^${label}`) }).click();
        await key(page, byTouch, text);
    }
    await dialog.locator('.pad').getByRole('button', { name: 'Book', exact: true }).click();
    await dialog.getByText(`${sight.target} booked.`).waitFor();
    expect(await dialog.locator('.wrong').allInnerTexts()).toEqual([]);
}

// The three screens of a crew, and what every page opened in a test is watched for.

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { chromium, type Browser, type BrowserContextOptions, type Page } from 'playwright-core';
import { expect } from 'vitest';

export interface Screen {
    name: string;
    options: BrowserContextOptions;
    touch: boolean;
}

export const kPhone: Screen = {
    name: 'phone',
    touch: true,
    options: { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 },
};
export const kTablet: Screen = {
    name: 'tablet',
    touch: true,
    options: { viewport: { width: 820, height: 1180 }, hasTouch: true },
};
export const kDesk: Screen = { name: 'desk', touch: false, options: { viewport: { width: 1440, height: 900 } } };

export function launch(): Promise<Browser> {
    return chromium.launch({
        executablePath: process.env['CHROMIUM'] ?? '/usr/bin/chromium',
        args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking'],
    });
}

export interface Opened {
    page: Page;
    /** Console errors and exceptions so far. */
    complaints: string[];
    close: () => Promise<void>;
}

export async function open(browser: Browser, address: string, screen: Screen): Promise<Opened> {
    const context = await browser.newContext({ ...screen.options, timezoneId: 'America/Chicago' });
    context.setDefaultTimeout(60_000);
    const page = await context.newPage();
    const complaints: string[] = [];
    page.on('console', (message) => {
        if (message.type() === 'error') complaints.push(message.text());
    });
    page.on('pageerror', (error) => complaints.push(String(error)));
    await page.goto(address);
    return { page, complaints, close: () => context.close() };
}

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** What axe finds, one line each; only the rules named when some are. */
export async function axe(page: Page, rules: string[] = []): Promise<string[]> {
    await page.evaluate(axeSource);
    return page.evaluate(async (only) => {
        const { axe } = window as unknown as {
            axe: { run: (o: object) => Promise<{ violations: { id: string; nodes: { html: string; failureSummary: string }[] }[] }> };
        };
        const found = await axe.run(only.length > 0 ? { runOnly: only } : { resultTypes: ['violations'] });
        return found.violations.flatMap((v) =>
            v.nodes.slice(0, 3).map((n) => `${v.id}: ${n.html.slice(0, 160)} ${n.failureSummary.slice(0, 200)}`),
        );
    }, rules);
}

/** How many pixels the page is wider than the screen. */
export function overflow(page: Page): Promise<number> {
    return page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
}

/** Opens one of the views. */
export async function view(page: Page, name: 'Vet' | 'Station' | 'Lay' | 'Watch' | 'Prove' | 'Plan'): Promise<void> {
    await page.locator('nav button:visible', { hasText: name }).first().click();
    await page.locator('article.verdict[aria-busy="false"]').waitFor();
}

/** In light, dark and sun: nothing axe complains of, nothing wider than the screen; in sun the strongest contrast. */
export async function expectReadableInEveryLight(page: Page): Promise<void> {
    for (const theme of ['light', 'dark', 'sun']) {
        await page.evaluate((t) => (document.documentElement.dataset['theme'] = t), theme);
        expect(await axe(page, theme === 'light' ? [] : ['color-contrast']), theme).toEqual([]);
        expect(await overflow(page), theme).toBeLessThanOrEqual(0);
    }
    expect(await axe(page, ['color-contrast-enhanced'])).toEqual([]);
}

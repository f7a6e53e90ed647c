// Measures the frames of the plan while it is dragged and zoomed, in the browser of a desk computer
// with software rendering. 20,000 points and 200 stations. Prints one line per movement.
//
//     npm run build && npm run bench
//
// Exit status 1 when a 95th percentile is above 20 ms.

import { readFile } from 'node:fs/promises';
import { createServer } from 'node:http';
import { loadavg } from 'node:os';
import { extname, join, normalize } from 'node:path';
import { chromium } from 'playwright-core';
import { inventedSheet, inventedStation } from './invented_sheet.ts';

const kMost_ms = 20;
const dist = join(import.meta.dirname, '..', 'dist');
const types: Record<string, string> = {
    '.html': 'text/html',
    '.js': 'text/javascript',
    '.css': 'text/css',
    '.svg': 'image/svg+xml',
};
const sheet = inventedSheet(Number(process.env['POINTS'] ?? 20_000), 200);
const answers: Record<string, unknown> = {
    sheet,
    station: inventedStation(sheet),
    sights: { act: 'sights', station: sheet.stations.at(-1)?.station, sights: [] },
};

const server = createServer(async (request, response) => {
    const path = normalize(new URL(request.url ?? '/', 'http://x').pathname);
    if (path === '/api/events') {
        response.writeHead(200, { 'Content-Type': 'text/event-stream' });
        response.write('retry: 1000\n\n');
        return;
    }
    if (path.startsWith('/api/')) {
        response.writeHead(200, { 'Content-Type': 'application/json' });
        response.end(JSON.stringify(answers[path.slice(5)] ?? {}));
        return;
    }
    const file = path === '/' ? 'index.html' : path.slice(1);
    response.writeHead(200, { 'Content-Type': types[extname(file)] ?? 'text/plain' });
    response.end(await readFile(join(dist, file)).catch(() => ''));
});
await new Promise<void>((ready) => server.listen(0, '127.0.0.1', ready));
const address = server.address();
const port = typeof address === 'object' && address ? address.port : 0;

const browser = await chromium.launch({
    executablePath: process.env['CHROMIUM'] ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking'],
});
const page = await browser.newPage({ viewport: { width: 1440, height: 900 } });
await page.goto(`http://127.0.0.1:${port}/`);
await page.waitForSelector('article.verdict .because');
await page.waitForTimeout(1500);
const box = await page.locator('.stage canvas').boundingBox();
if (!box) throw new Error('no plan');
const middle = { x: box.x + box.width / 2, y: box.y + box.height / 2 };

/** Frame intervals while `move` is at work. */
async function frames(move: () => Promise<void>): Promise<number[]> {
    await page.evaluate(() => {
        const w = window as unknown as { times: number[] };
        const times: number[] = [];
        w.times = times;
        const tick = (time: number) => {
            times.push(time);
            if (w.times === times) requestAnimationFrame(tick);
        };
        requestAnimationFrame(tick);
    });
    await move();
    const times = await page.evaluate(() => {
        const w = window as unknown as { times: number[] };
        const { times } = w;
        w.times = [];
        return times;
    });
    return times.slice(1).map((t, i) => t - (times[i] ?? t));
}

async function drag(): Promise<void> {
    await page.mouse.move(middle.x, middle.y);
    await page.mouse.down();
    for (let i = 0; i < 150; i++) {
        await page.mouse.move(middle.x + 180 * Math.sin(i / 16), middle.y + 120 * Math.sin(i / 11));
        await page.waitForTimeout(10);
    }
    await page.mouse.up();
}

async function wheel(by: number, times: number): Promise<void> {
    await page.mouse.move(middle.x, middle.y);
    for (let i = 0; i < times; i++) {
        await page.mouse.wheel(0, by);
        await page.waitForTimeout(12);
    }
}

const movements: [string, () => Promise<void>][] = [
    ['drag, whole site', drag],
    ['wheel in and out', async () => {
        await wheel(-40, 60);
        await wheel(40, 60);
    }],
    ['drag, zoomed in', async () => {
        await wheel(-120, 12);
        await page.waitForTimeout(300);
        await drag();
    }],
];

let worst = 0;
for (const [name, move] of movements) {
    const intervals = (await frames(move)).sort((a, b) => a - b);
    const at = (share: number) => intervals[Math.min(intervals.length - 1, Math.floor(share * intervals.length))] ?? 0;
    worst = Math.max(worst, at(0.95));
    console.log(
        `${name}: ${intervals.length} frames, median ${at(0.5).toFixed(1)} ms, p95 ${at(0.95).toFixed(1)} ms, longest ${at(1).toFixed(1)} ms`,
    );
}
console.log(`${sheet.points.length} points, ${sheet.stations.length} stations, load ${loadavg()[0]?.toFixed(1)}`);
await browser.close();
server.closeAllConnections();
server.close();
process.exitCode = worst <= kMost_ms ? 0 : 1;

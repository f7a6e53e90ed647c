// The program under test: LAYPROOF_BINARY, or the release build of this checkout.

import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

const root = resolve(import.meta.dirname, '../..');
export const example = join(root, 'examples/invented-mill-hall');

export function binary(): string {
    const path = process.env['LAYPROOF_BINARY'] ?? join(root, 'build/release/bin/layproof');
    if (!existsSync(path)) throw new Error(`There is no layproof at ${path}: build it, or set LAYPROOF_BINARY.`);
    return path;
}

/** A folder of its own for one test file; gone when the process ends. */
export function ownFolder(): string {
    const folder = mkdtempSync(join(tmpdir(), 'layproof-page-'));
    process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
    return folder;
}

/** Runs the program to its end; the answer of --json, or the text. */
export function run(...words: string[]): string {
    const done = spawnSync(binary(), words, { encoding: 'utf8', maxBuffer: 1 << 28 });
    if (done.status === null || done.status > 1) {
        throw new Error(`layproof ${words.join(' ')}: ${done.status} ${done.stderr}`);
    }
    return done.stdout;
}

export function runJson<T>(...words: string[]): T {
    return JSON.parse(run(...words, '--json')) as T;
}

export interface Served {
    address: string;
    port: number;
    said: () => string;
    stop: () => Promise<void>;
}

const running = new Set<ChildProcess>();
process.on('exit', () => running.forEach((child) => child.kill('SIGKILL')));

/** layproof serve, once it says where. */
export async function serve(job: string, ...words: string[]): Promise<Served> {
    const child: ChildProcess = spawn(binary(), ['serve', job, ...words], { stdio: ['ignore', 'pipe', 'pipe'] });
    let text = '';
    running.add(child);
    const ended = new Promise<void>((done) =>
        child.once('exit', () => {
            running.delete(child);
            done();
        }),
    );
    const stop = async () => {
        if (child.exitCode === null) child.kill('SIGINT');
        await ended;
    };
    const port = await new Promise<number>((ready, fail) => {
        const hear = (bytes: Buffer) => {
            text += bytes.toString();
            const found = /http:\/\/[^:\s]+:(\d+)\//.exec(text);
            if (found) ready(Number(found[1]));
        };
        child.stdout?.on('data', hear);
        child.stderr?.on('data', hear);
        child.once('exit', () => fail(new Error(`layproof serve ended: ${text}`)));
        setTimeout(() => fail(new Error(`layproof serve says no address: ${text}`)), 60_000).unref();
    });
    return { address: `http://127.0.0.1:${port}/`, port, said: () => text, stop };
}

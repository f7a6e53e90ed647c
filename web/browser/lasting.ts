// Jobs whose work lasts on any machine: made larger until the command line needs long for them.

import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { example, run } from './program';

/** Many times what a page needs to open and to press a button. */
const kLeast_s = 4;

export interface Size {
    setups: number;
    /** How often each sight is taken, a tenth of a second of arc and some seconds later. */
    rounds: number;
}

/** The first set-up of the day under many names, each with many rounds of its sights. */
export function largeJob(folder: string, name: string, size: Size): string {
    const job = join(folder, `${name}.job`);
    const again = (file: string, rounds: number) => {
        const [head, ...rows] = readFileSync(join(example, file), 'utf8').trim().split('\n');
        const first = rows.filter((r) => r.startsWith('D1,') && !r.includes(',lay,')).map((r) => r.slice(2));
        const times = first.flatMap((row) => Array.from({ length: rounds }, (_, i) => later(row, i)));
        const names = Array.from({ length: size.setups }, (_, i) => `P${String(i + 1).padStart(2, '0')}`);
        const path = join(folder, `${name}-${file}`);
        writeFileSync(path, `${[head, ...names.flatMap((n) => times.map((row) => n + row))].join('\n')}\n`);
        return path;
    };
    run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
    run(
        ...['job', 'take', job, '--marks', join(example, 'marks.csv'), '--unit', 'ft'],
        ...['--setups', again('day-setups.csv', 1), '--sights', again('day-sights.csv', size.rounds)],
        ...['--points', join(example, 'points.csv'), '--instrument', join(example, 'instrument.toml')],
    );
    return job;
}

function later(row: string, round: number): string {
    if (round === 0) return row;
    return row
        .replace(/T(\d\d):(\d\d):\d\d/, (_, h: string, m: string) => `T${h}:${m}:${String(Math.min(59, round)).padStart(2, '0')}`)
        .replace(/(\d+-\d+-\d+)\.(\d)/, (_, angle: string, tenth: string) => `${angle}.${(Number(tenth) + round) % 10}`);
}

/** The first of ever larger jobs that `act` of the command line works on for kLeast_s or longer. */
export function lastingJob(folder: string, name: string, act: 'station' | 'vet', first: Size, larger: (size: Size, times: number) => Size): string {
    for (let size = first, i = 1; i <= 12; i++) {
        const job = largeJob(folder, `${name}-${i}`, size);
        const began = performance.now();
        run(act, '--job', job);
        const took_s = (performance.now() - began) / 1000;
        console.log(`${act} of ${size.setups} set-ups in ${size.rounds} rounds: ${took_s.toFixed(1)} s`);
        if (took_s >= kLeast_s) return job;
        size = larger(size, Math.min(8, Math.max(1.5, (1.2 * kLeast_s) / took_s)));
    }
    throw new Error(`No job is large enough for ${act}.`);
}

// Jobs whose work lasts on any machine: made larger until the command line needs long for them.

import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { example, run } from './program';

/** Many times what a page needs to open and to press a button. */
const kLeast_s = 10;

export interface Size {
    setups: number;
    points: number;
}

/** The first set-up of the day under many names, and points to lay in rows across the site. */
export function largeJob(folder: string, name: string, size: Size): string {
    const job = join(folder, `${name}.job`);
    const write = (file: string, lines: string[]) => {
        const path = join(folder, `${name}-${file}`);
        writeFileSync(path, `${lines.join('\n')}\n`);
        return path;
    };
    const again = (file: string) => {
        const [head, ...rows] = readFileSync(join(example, file), 'utf8').trim().split('\n');
        const first = rows.filter((r) => r.startsWith('D1,') && !r.includes(',lay,')).map((r) => r.slice(2));
        const names = Array.from({ length: size.setups }, (_, i) => `P${String(i + 1).padStart(2, '0')}`);
        return write(file, [head!, ...names.flatMap((n) => first.map((row) => n + row))]);
    };
    const columns = 100;
    const points = Array.from(
        { length: size.points },
        (_, i) => `Q${i + 1},${5020 + 2 * (i % columns)},${10020 + (150 * Math.floor(i / columns)) / (size.points / columns)},312.5`,
    );
    run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
    run(
        ...['job', 'take', job, '--marks', join(example, 'marks.csv'), '--unit', 'ft'],
        ...['--setups', again('day-setups.csv'), '--sights', again('day-sights.csv')],
        ...['--points', write('points.csv', ['point,east [ft],north [ft],height [ft]', ...points])],
        ...['--instrument', join(example, 'instrument.toml')],
    );
    return job;
}

/** The first of ever larger jobs that `act` of the command line works on for kLeast_s or longer. */
export function lastingJob(folder: string, name: string, act: 'station' | 'vet', first: Size, larger: (size: Size, times: number) => Size): string {
    for (let size = first, i = 1; i <= 12; i++) {
        const job = largeJob(folder, `${name}-${i}`, size);
        const began = performance.now();
        run(act, '--job', job);
        const took_s = (performance.now() - began) / 1000;
        console.log(`${act} of ${size.setups} set-ups and ${size.points} points: ${took_s.toFixed(1)} s`);
        if (took_s >= kLeast_s) return job;
        size = larger(size, Math.min(8, Math.max(1.5, (1.2 * kLeast_s) / took_s)));
    }
    throw new Error(`No job is large enough for ${act}.`);
}

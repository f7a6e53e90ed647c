// One job worked through step by step on each screen: begun empty, served, opened in the browser.

import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe } from 'vitest';
import { ownFolder, run, serve, type Served } from './program';
import { kDesk, kPhone, kTablet, launch, open, type Opened, type Screen } from './screens';

export interface Steps {
    screen: Screen;
    /** The job file. */
    job: string;
    /** A folder of its own, gone at the end. */
    folder: string;
    readonly page: Page;
    readonly complaints: string[];
}

interface Choice {
    /** Done with the empty job before it is opened. */
    prepare?: (steps: Pick<Steps, 'job' | 'folder' | 'screen'>) => void;
    /** Further words of `layproof serve`. */
    serveWith?: (folder: string) => string[];
}

/** The tests of `tell` once on phone, tablet and desk; after a failure the rest would only say the same. */
export function onEachScreen(title: string, tell: (steps: Steps) => void, choice: Choice = {}): void {
    const folder = ownFolder();
    let browser: Browser;
    beforeAll(async () => {
        browser = await launch();
    });
    afterAll(() => browser.close());

    describe.each([kPhone, kTablet, kDesk])(`${title} on a $name`, (screen: Screen) => {
        const job = join(folder, `${screen.name}.job`);
        let served: Served;
        let opened: Opened;
        let broken = false;
        beforeEach((context) => {
            if (broken) context.skip();
        });
        afterEach((context) => {
            broken ||= context.task.result?.state === 'fail';
        });
        beforeAll(async () => {
            run('job', 'new', job, '--title', 'Mill hall', '--crew', 'day crew');
            choice.prepare?.({ job, folder, screen });
            served = await serve(job, '--port', '0', ...(choice.serveWith?.(folder) ?? []));
            opened = await open(browser, served.address, screen);
        });
        afterAll(async () => {
            await opened.close();
            await served.stop();
        });
        tell({
            screen,
            job,
            folder,
            get page() {
                return opened.page;
            },
            get complaints() {
                return opened.complaints;
            },
        });
    });
}

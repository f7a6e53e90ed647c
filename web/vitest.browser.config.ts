import { defineConfig } from 'vitest/config';

// Drives a real browser against the real program; one file after the other, because the machine
// that runs this has two cores.
export default defineConfig({
    test: {
        environment: 'node',
        include: ['browser/**/*.test.ts'],
        fileParallelism: false,
        // Nothing here measures speed: a machine that is slow or busy is waited for.
        testTimeout: 300_000,
        hookTimeout: 120_000,
        expect: { poll: { timeout: 60_000 } },
        reporters: ['default', './browser/closing_line.ts'],
    },
});

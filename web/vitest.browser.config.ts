import { defineConfig } from 'vitest/config';

// Drives a real browser against the real program; one file after the other, because the machine
// that runs this has two cores.
export default defineConfig({
    test: {
        environment: 'node',
        include: ['browser/**/*.test.ts'],
        fileParallelism: false,
        testTimeout: 60_000,
        hookTimeout: 60_000,
        reporters: ['default', './browser/closing_line.ts'],
    },
});

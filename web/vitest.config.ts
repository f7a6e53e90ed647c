import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

export default defineConfig({
    plugins: [svelte()],
    resolve: { conditions: ['browser'] },
    test: {
        environment: 'jsdom',
        include: ['tests/**/*.test.ts'],
        // No test is a measure of speed: a busy machine is waited for.
        testTimeout: 60_000,
        hookTimeout: 60_000,
        reporters: ['default', './browser/closing_line.ts'],
    },
});

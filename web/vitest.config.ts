import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

export default defineConfig({
    plugins: [svelte()],
    resolve: { conditions: ['browser'] },
    test: { environment: 'jsdom', include: ['tests/**/*.test.ts'], reporters: ['default', './browser/closing_line.ts'] },
});

import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

// The page is served by the program itself under a strict content policy: no inline script, no
// inline style, nothing from elsewhere. File names carry the hash of their content, so that the
// same sources always give the same files.
export default defineConfig({
    plugins: [svelte()],
    build: {
        outDir: 'dist',
        emptyOutDir: true,
        target: 'es2022',
        cssCodeSplit: false,
        assetsInlineLimit: 0,
        modulePreload: { polyfill: false },
        reportCompressedSize: true,
    },
    server: { proxy: { '/api': process.env['LAYPROOF_SERVER'] ?? 'http://127.0.0.1:7410' } },
});

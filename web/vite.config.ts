import { svelte } from '@sveltejs/vite-plugin-svelte';
import { VitePWA } from 'vite-plugin-pwa';
import { defineConfig } from 'vitest/config';

// What a phone must hold before it drives off; map and charts are for the desk and are fetched when asked for.
const desk_only = ['**/MapSheet-*', '**/Chart-*', '**/maplibre*'];

export default defineConfig({
  plugins: [
    svelte(),
    VitePWA({
      strategies: 'generateSW',
      injectRegister: null,
      registerType: 'autoUpdate',
      manifest: {
        name: 'outyard',
        short_name: 'outyard',
        description: 'The day’s run, the yard’s sheet and the tally, with or without signal',
        id: '/#/phone',
        start_url: '/#/phone',
        scope: '/',
        display: 'standalone',
        orientation: 'portrait',
        background_color: '#ffffff',
        theme_color: '#111111',
        icons: [
          { src: '/icon-192.png', sizes: '192x192', type: 'image/png' },
          { src: '/icon-512.png', sizes: '512x512', type: 'image/png' },
          { src: '/icon-512.png', sizes: '512x512', type: 'image/png', purpose: 'maskable' },
        ],
      },
      workbox: {
        globPatterns: ['**/*.{js,mjs,css,html,svg,png,webmanifest}'],
        globIgnores: desk_only,
        navigateFallback: '/index.html',
        navigateFallbackDenylist: [/^\/api\//, /^\/(pair|trust)\b/],
        clientsClaim: true,
        skipWaiting: true,
        cleanupOutdatedCaches: true,
        inlineWorkboxRuntime: true,
        sourcemap: false,
      },
    }),
  ],
  build: {
    target: 'es2020',
    manifest: 'parts.json',
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 1200,
  },
  worker: { format: 'es' },
  server: { proxy: { '/api': process.env.OUTYARD_SERVER ?? 'http://127.0.0.1:8787' } },
  test: { include: ['tests/unit/**/*.test.ts'], environment: 'node' },
});

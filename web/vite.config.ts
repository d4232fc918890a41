import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';
import { offlineShell } from './src/offline/shell-plugin.ts';

/** `npm run dev -w web` shows the pages against a server started with `npm start` or `npm run demo` on its usual port. */
const SERVER = 'http://127.0.0.1:8080';

export default defineConfig({
  plugins: [svelte(), offlineShell()],
  build: {
    outDir: 'dist',
    emptyOutDir: true,
    target: 'es2022',
    modulePreload: false,
    rollupOptions: {
      input: { index: 'index.html', worker: 'src/offline/worker.ts' },
      // The service worker has to lie at the top, under a name that stays.
      output: { entryFileNames: ({ name }) => (name === 'worker' ? 'worker.js' : 'assets/[name]-[hash].js') },
    },
  },
  server: { proxy: { '/api': SERVER, '/live': { target: SERVER, ws: true } } },
});

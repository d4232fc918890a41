import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

/** `npm run dev -w web` shows the pages against a server started with `npm start` or `npm run demo` on its usual port. */
const SERVER = 'http://127.0.0.1:8080';

export default defineConfig({
  plugins: [svelte()],
  build: { outDir: 'dist', emptyOutDir: true, target: 'es2022', modulePreload: false },
  server: { proxy: { '/api': SERVER, '/live': { target: SERVER, ws: true } } },
});

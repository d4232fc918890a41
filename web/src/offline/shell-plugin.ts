/** Part of the build, not of the pages: tells the service worker which files there are, and lays a gzipped copy beside each. */
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { gzipSync } from 'node:zlib';
import type { Plugin } from 'vite';

const WORKER = 'worker.js';
const COMPRESSED = /\.(html|js|css|svg|webmanifest)$/;

export function offlineShell(): Plugin {
  let folder = '';
  return {
    name: 'offline-shell',
    apply: 'build',
    configResolved(config) {
      folder = path.resolve(config.root, config.build.outDir);
    },
    closeBundle(error?: Error) {
      if (error !== undefined) return;
      const files = filesOf(folder);
      const shell = files.filter((file) => file !== WORKER);
      const hash = createHash('sha256');
      for (const file of shell) hash.update(`${file}\n`).update(readFileSync(path.join(folder, file)));
      const paths = shell.map((file) => (file === 'index.html' ? '/' : `/${file}`));
      const worker = readFileSync(path.join(folder, WORKER), 'utf8')
        .replaceAll('__SHELL_VERSION__', JSON.stringify(hash.digest('hex').slice(0, 16)))
        .replaceAll('__SHELL__', JSON.stringify(paths));
      writeFileSync(path.join(folder, WORKER), worker);
      for (const file of files.filter((name) => COMPRESSED.test(name))) compress(path.join(folder, file));
    },
  };
}

function filesOf(folder: string): string[] {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => path.relative(folder, path.join(entry.parentPath, entry.name)).replaceAll(path.sep, '/'))
    .sort();
}

function compress(file: string): void {
  const plain = readFileSync(file);
  const packed = gzipSync(plain, { level: 9 });
  if (packed.length < plain.length) writeFileSync(`${file}.gz`, packed);
}

/**
 * The service worker: keeps the files of the dashboard, so that a reload without a server shows a page that says so. A new
 * version waits until every page of the old one is closed: it takes over nothing that runs. While the server answers, a
 * reload brings the new page all the same.
 */
import { answerTo, PAGE } from './shell-rules.ts';

/** Both are put in when the dashboard is built (shell-plugin.ts). */
declare const __SHELL__: string[];
declare const __SHELL_VERSION__: string;

const STORE_PREFIX = 'shell-';
const STORE = STORE_PREFIX + __SHELL_VERSION__;
/** A server that does not answer for this long does not answer. */
const PAGE_WAIT_MS = 4000;

interface Extendable extends Event {
  waitUntil(done: Promise<unknown>): void;
}
interface Fetching extends Event {
  request: Request;
  respondWith(response: Promise<Response>): void;
}

self.addEventListener('install', (event) => {
  const files = __SHELL__.map((path) => new Request(path, { cache: 'reload' }));
  (event as Extendable).waitUntil(caches.open(STORE).then((store) => store.addAll(files)));
});

self.addEventListener('activate', (event) => {
  (event as Extendable).waitUntil(dropOldStores());
});

self.addEventListener('fetch', (event) => {
  const { request, respondWith } = event as Fetching;
  const answer = answerTo(request, location.origin, __SHELL__);
  if (answer === 'page') respondWith.call(event, page(request));
  if (answer === 'stored file') respondWith.call(event, storedFile(request));
});

async function dropOldStores(): Promise<void> {
  const names = await caches.keys();
  await Promise.all(
    names.filter((name) => name.startsWith(STORE_PREFIX) && name !== STORE).map((name) => caches.delete(name)),
  );
}

async function page(request: Request): Promise<Response> {
  try {
    return await fetch(request, { signal: AbortSignal.timeout(PAGE_WAIT_MS) });
  } catch (cause) {
    const stored = await (await caches.open(STORE)).match(PAGE);
    if (stored !== undefined) return stored;
    throw cause;
  }
}

async function storedFile(request: Request): Promise<Response> {
  return (await (await caches.open(STORE)).match(request)) ?? fetch(request);
}

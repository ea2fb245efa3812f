// Answers for the server while there is no signal: with the pages that the phone took along, and
// with the files that they need. It answers no form: those are kept by the page's own script.
const FILES = 'files-RELEASE';
const PAGES = 'pages';
const PATIENCE_MS = 8e3;
const files = ['/style.css', '/phone.js', '/icon.svg', '/traybook.webmanifest'].map(f => `${f}?RELEASE`);

self.addEventListener('install', event => {
  event.waitUntil(caches.open(FILES).then(c => c.addAll(files)).then(() => self.skipWaiting()));
});

self.addEventListener('activate', event => {
  const old = name => name.startsWith('files-') && name !== FILES;
  event.waitUntil(caches.keys()
    .then(names => Promise.all(names.filter(old).map(name => caches.delete(name))))
    .then(() => self.clients.claim()));
});

// Pages of members and officers; files to download and offices' pages stay with the server.
const WORKS = /^\/(today|output|batches|ask|round|farms|visits|follow-ups|requests|events|phone)(\/|$)/;

const pageOf = async (request, event) => {
  const url = new URL(request.url);
  const pages = await caches.open(PAGES);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    const isPage = answer.headers.get('content-type')?.startsWith('text/html');
    if (answer.ok && !answer.redirected && isPage) {
      // The page is shown whether or not there is room to keep it.
      event.waitUntil(pages.put(url.pathname + url.search, answer.clone()).catch(() => {}));
    }
    return answer;
  } catch (error) {
    const kept = (await pages.match(url.pathname + url.search)) ?? (await pages.match('/phone'));
    if (kept) return kept;
    throw error;
  }
};

self.addEventListener('fetch', event => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (files.includes(url.pathname + url.search)) {
    event.respondWith(caches.match(request).then(kept => kept ?? fetch(request)));
  } else if (request.mode === 'navigate' && (WORKS.test(url.pathname) || url.pathname === '/')) {
    event.respondWith(pageOf(request, event));
  }
});

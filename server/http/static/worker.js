// Answers for the server while there is no signal: with the pages that the phone took along, and
// with the files that they need. It answers no form: those are kept by the page's own script.
const FILES = 'files-RELEASE';
const PAGES = 'pages';
const PATIENCE_MS = 8e3;
const OLD_MS = 6 * 3600e3; // A stored page that is older is shown after a last try to ask.
const ASKING_MS = 20e3;
const GONE_MS = 14 * 24 * 3600e3; // A fortnight without signal; what is older is not shown.
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
const WORKS = /^\/(today|output|batches|ask|round|farms|visits|follow-ups|requests|events|trainings|phone)(\/|$)/;

// When a page was stored, by this phone's clock: the page's own script writes the same header.
const stamped = async answer => {
  const headers = new Headers(answer.headers);
  headers.set('x-kept-at', String(Date.now()));
  return new Response(await answer.blob(), { status: answer.status, headers });
};

// Whether a stored page may be shown. One that is old only after asking whether the sign-in holds:
// somebody may have ended it, since the phone is lost. A clock that went back makes it old, not gone:
// that of a phone whose battery was empty does.
const mayShow = async kept => {
  const age = Date.now() - Number(kept.headers.get('x-kept-at') ?? 0);
  if (age >= 0 && age < OLD_MS) return true;
  let holds = age < GONE_MS;
  try {
    const options = { headers: { 'x-from-phone': '1' }, cache: 'no-store', signal: AbortSignal.timeout(ASKING_MS) };
    const answer = await fetch('/phone/token', options);
    if (answer.ok) return true;
    if (answer.status === 401) holds = false;
  } catch { /* Still no signal. */ }
  if (!holds) await caches.delete(PAGES);
  return holds;
};

// The server shows the page for signing in: whoever was signed in here is not any more.
const signInOf = async request => {
  const answer = await fetch(request);
  if (answer.ok) await caches.delete(PAGES);
  return answer;
};

const pageOf = async (request, event) => {
  const url = new URL(request.url);
  const pages = await caches.open(PAGES);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    const isPage = answer.headers.get('content-type')?.startsWith('text/html');
    if (answer.ok && !answer.redirected && isPage) {
      // The page is shown whether or not there is room to keep it.
      const copy = stamped(answer.clone());
      event.waitUntil(copy.then(kept => pages.put(url.pathname + url.search, kept)).catch(() => {}));
    }
    return answer;
  } catch (error) {
    const kept = (await pages.match(url.pathname + url.search)) ?? (await pages.match('/phone'));
    if (kept && await mayShow(kept)) return kept;
    throw error;
  }
};

self.addEventListener('fetch', event => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (files.includes(url.pathname + url.search)) {
    event.respondWith(caches.match(request).then(kept => kept ?? fetch(request)));
  } else if (request.mode === 'navigate' && url.pathname === '/sign-in') {
    event.respondWith(signInOf(request));
  } else if (request.mode === 'navigate' && (WORKS.test(url.pathname) || url.pathname === '/')) {
    event.respondWith(pageOf(request, event));
  }
});

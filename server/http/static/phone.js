// Forms that work without signal. A form marked data-keep is first kept on the phone, then sent;
// what can not be sent now is sent later, in the order in which it was kept, each entry by itself.
// Nothing leaves the phone before the server has said that it took it.

const text = name => document.querySelector(`meta[name="${name}"]`)?.content ?? '';
const person = text('person');
const banner = document.getElementById('phone');
const kept = document.getElementById('kept');
const KEEP_SENT_MS = 2 * 24 * 3600e3; // Sent entries are shown for two days.
const PATIENCE_MS = 15e3;
const CLOCK_MS = 5 * 60e3; // A clock that moved further than this is asked about.
const PHOTO_PX = 1600;

// --- the clock: the server's, as far as this phone knows it ------------------------------------
const remember = (name, value) => { try { localStorage.setItem(name, value); } catch { /* private */ } };
const recall = name => { try { return localStorage.getItem(name); } catch { return null; } };
const offset = () => Number(recall('offset') ?? 0);
const now = () => new Date(Date.now() + offset());
const local = at => { // As a field of day and time shows it, in the co-operative's zone.
  const part = {};
  const format = new Intl.DateTimeFormat('en-GB', {
    timeZone: text('zone') || undefined, hourCycle: 'h23', year: 'numeric', month: '2-digit',
    day: '2-digit', hour: '2-digit', minute: '2-digit',
  });
  for (const { type, value } of format.formatToParts(at)) part[type] = value;
  return `${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}`;
};

// UUID of version 7 (RFC 9562): the time, then randomness.
const newId = () => {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let ms = now().getTime();
  for (let at = 5; at >= 0; at -= 1) { bytes[at] = ms % 256; ms = Math.floor(ms / 256); }
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map(b => b.toString(16).padStart(2, '0')).join('');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
};

// --- what is kept -------------------------------------------------------------------------------
const store = new Promise((done, failed) => {
  const asked = indexedDB.open('traybook', 1);
  asked.onupgradeneeded = () => {
    asked.result.createObjectStore('entries', { keyPath: 'key' });
    asked.result.createObjectStore('photos', { keyPath: 'key' }).createIndex('entry', 'entry');
  };
  asked.onsuccess = () => done(asked.result);
  asked.onerror = () => failed(asked.error);
});
const wait = asked => new Promise((done, failed) => {
  asked.onsuccess = () => done(asked.result);
  asked.onerror = () => failed(asked.error);
});
// All of what `change` asks for, or nothing; done when it is on the phone's disk.
const write = async change => {
  const db = await store;
  await new Promise((done, failed) => {
    const change_all = db.transaction(['entries', 'photos'], 'readwrite', { durability: 'strict' });
    change_all.oncomplete = () => done();
    change_all.onabort = () => failed(change_all.error ?? new Error('not kept'));
    change(change_all.objectStore('entries'), change_all.objectStore('photos'));
  });
};
const read = async (name, by) => by((await store).transaction(name).objectStore(name));
const entry = key => read('entries', s => wait(s.get(key)));
const entries = async () => {
  const all = await read('entries', s => wait(s.getAll()));
  return all.sort((a, b) => a.kept - b.kept);
};
const photosOf = key => read('photos', s => wait(s.index('entry').getAll(key)));
const change = async (one, more) => {
  const next = { ...one, ...more };
  await write(s => s.put(next));
  return next;
};
const drop = async one => {
  const photos = await photosOf(one.key);
  await write((s, p) => { s.delete(one.key); photos.forEach(photo => p.delete(photo.key)); });
};

// --- keeping a form -----------------------------------------------------------------------------
const shrink = async file => {
  const picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
  const by = Math.min(1, PHOTO_PX / Math.max(picture.width, picture.height));
  const canvas = document.createElement('canvas');
  canvas.width = Math.round(picture.width * by);
  canvas.height = Math.round(picture.height * by);
  canvas.getContext('2d').drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise(done => canvas.toBlob(done, 'image/jpeg', 0.8));
  if (!blob) throw new Error('no picture');
  return blob;
};

const fieldsOf = form => {
  const fields = [];
  for (const [name, value] of new FormData(form)) {
    if (name !== 'csrf' && typeof value === 'string') fields.push([name, value]);
  }
  return fields;
};
const set = (fields, name, value) => {
  const found = fields.find(f => f[0] === name);
  if (found) found[1] = value; else fields.push([name, value]);
};
const get = (fields, name) => fields.find(f => f[0] === name)?.[1] ?? '';

// What was meant to happen once must be one entry, however often it is tapped.
const keyOf = (form, fields) => {
  const id = form.querySelector('input[data-id]')?.value;
  if (id) return id;
  const what = get(fields, 'line') || `version ${get(fields, 'version')}`;
  return `${form.getAttribute('action')} ${what}`;
};

const keep = async form => {
  const fields = fieldsOf(form);
  const at = now().toISOString();
  if (form.hasAttribute('data-along')) {
    set(fields, 'at', at);
    for (const [name, value] of new URLSearchParams(form.dataset.along)) {
      if (!get(fields, name)) set(fields, name, value);
    }
  }
  if (form.dataset.day) set(fields, form.dataset.day, local(now()).slice(0, 10));
  if (fields.some(f => f[0] === 'ended_at') && !get(fields, 'ended_at')) {
    const begun = get(fields, 'started_at');
    if (begun.slice(0, 10) === local(now()).slice(0, 10) && begun <= local(now())) {
      set(fields, 'ended_at', at);
    }
  }
  let key = keyOf(form, fields);
  const before = await entry(key);
  if (before && before.state === 'sent') {
    // The same page, used a second time: another record.
    for (const input of form.querySelectorAll('input[data-id]')) {
      input.value = newId();
      set(fields, input.name, input.value);
    }
    key = keyOf(form, fields);
  }
  const photos = [];
  for (const input of form.querySelectorAll('input[type=file]')) {
    for (const file of input.files) {
      let blob;
      try { blob = await shrink(file); } catch {
        throw new Error(banner.dataset.photo);
      }
      const taken_at = new Date(Math.min(file.lastModified + offset(), now())).toISOString();
      photos.push({ key: newId(), entry: key, taken_at, blob });
    }
  }
  const one = {
    key, person, fields, action: form.getAttribute('action'), form: form.getAttribute('id'), page: page(),
    name: form.dataset.keep, kept: Date.now(), offset: offset(), state: 'kept',
  };
  await write((s, p) => { s.put(one); photos.forEach(photo => p.put(photo)); });
  navigator.storage?.persist?.();
  return one;
};
const page = () => location.pathname + location.search;

// --- sending ------------------------------------------------------------------------------------
const ask = async (url, options = {}) => {
  const headers = { 'x-from-phone': '1', accept: 'application/json' };
  const signal = AbortSignal.timeout(PATIENCE_MS);
  return fetch(url, { ...options, headers, signal, redirect: 'error', cache: 'no-store' });
};
const body = (fields, csrf) => {
  const form = new URLSearchParams(fields);
  form.set('csrf', csrf);
  return form;
};

class NoSignal extends Error {}

// One answer of the server about one thing: taken, refused for good, or not now.
const send = async (url, sent) => {
  let answer;
  try { answer = await ask(url, { method: 'POST', body: sent }); } catch { throw new NoSignal(); }
  if (answer.ok) return { taken: true, ...(await answer.json().catch(() => ({}))) };
  if (answer.status >= 500 || answer.status === 429 || answer.status === 401) throw new NoSignal();
  const problem = await answer.json().catch(() => ({}));
  return { taken: false, status: answer.status, problem };
};

const sendPhotos = async (one, csrf) => {
  for (const photo of await photosOf(one.key)) {
    const form = new FormData();
    form.set('csrf', csrf);
    form.set('id', photo.key);
    form.set('taken_at', photo.taken_at);
    form.set('photo', photo.blob, 'photo.jpg');
    const answer = await send(`/visits/${one.key}/photos`, form);
    if (!answer.taken) return change(one, { state: 'needs', problem: answer.problem, isPhoto: true });
    await write((s, p) => p.delete(photo.key));
  }
  return change(one, { state: 'sent', sent: Date.now(), problem: null });
};

const sendOne = async (one, who) => {
  if (one.state === 'photos') return sendPhotos(one, who.csrf);
  const moved = Math.abs(who.offset - one.offset);
  if (moved > CLOCK_MS && !one.clockSeen) {
    return change(one, { state: 'needs', problem: null, clock: Math.round(moved / 60e3) });
  }
  const answer = await send(one.action, body(one.fields, who.csrf));
  if (!answer.taken) {
    return change(one, { state: 'needs', problem: answer.problem, status: answer.status });
  }
  const see = answer.see;
  const has = (await photosOf(one.key)).length > 0;
  const next = await change(one, { state: has ? 'photos' : 'sent', sent: Date.now(), see, problem: null });
  return has ? sendPhotos(next, who.csrf) : next;
};

// Who is signed in, and the server's clock; null without signal.
const whoIsIt = async () => {
  let answer;
  try { answer = await ask('/phone/token'); } catch { return null; }
  if (!answer.ok) return answer.status === 401 ? { person: '' } : null;
  const who = await answer.json();
  who.offset = who.now - Date.now();
  remember('offset', String(who.offset));
  return who;
};

let signal = navigator.onLine;
let signedOut = false;
const flush = () => navigator.locks.request('traybook-send', async () => {
  const waiting = (await entries()).filter(e => e.state === 'kept' || e.state === 'photos');
  for (const one of waiting.length ? [] : await entries()) {
    if (one.state === 'sent' && Date.now() - one.sent > KEEP_SENT_MS) await drop(one);
  }
  if (!waiting.length && signal) return;
  const who = await whoIsIt();
  signal = who !== null;
  signedOut = who?.person === '';
  try {
    for (const one of who ? waiting : []) {
      if (one.person === who.person) await sendOne(one, who);
    }
  } catch (error) {
    if (!(error instanceof NoSignal)) throw error;
    signal = false;
  }
}).then(show, show);

let pause = 15e3;
const later = () => setTimeout(async () => {
  await flush();
  pause = signal ? 15e3 : Math.min(pause * 2, 300e3);
  later();
}, pause);

// --- what the person sees -----------------------------------------------------------------------
const make = (tag, content, more = {}) => {
  const element = Object.assign(document.createElement(tag), more);
  element.append(...[content].flat());
  return element;
};

const room = async () => {
  const { usage = 0, quota = 0 } = (await navigator.storage?.estimate?.()) ?? {};
  return quota > 0 && quota - usage < 20e6;
};

const show = async () => {
  const all = await entries();
  const mine = all.filter(e => e.person === person);
  const waiting = mine.filter(e => e.state === 'kept' || e.state === 'photos').length;
  const needs = mine.filter(e => e.state === 'needs').length;
  const say = [];
  if (!signal) say.push(banner.dataset.offline);
  if (signedOut) say.push(banner.dataset.signIn);
  if (waiting) say.push(`${banner.dataset.waiting}${waiting}.`);
  if (needs) say.push(`${banner.dataset.needs}${needs}.`);
  if (await room()) say.push(banner.dataset.full);
  banner.querySelector('span').textContent = say.join(' ');
  banner.hidden = say.length === 0;
  for (const form of document.querySelectorAll('form[data-along]')) mark(form, mine);
  if (kept) await list(all);
};

// A line of work that is kept on the phone is not asked for again.
const mark = (form, mine) => {
  const one = mine.find(e => e.key === keyOf(form, fieldsOf(form)) && e.state !== 'needs');
  const shown = form.parentElement.querySelector('.kept-mark');
  form.hidden = Boolean(one);
  if (one && !shown) {
    const word = one.state === 'sent' ? banner.dataset.sent : banner.dataset.here;
    form.after(make('p', make('span', word, { className: 'state' }), { className: 'kept-mark' }));
  } else if (one && shown && one.state === 'sent') {
    shown.firstChild.textContent = banner.dataset.sent;
  } else if (!one) shown?.remove();
};

const say = name => kept.dataset[`phone${name}`];
const list = async all => {
  const items = await Promise.all(all.slice().reverse().map(item));
  kept.replaceChildren(items.length ? make('ul', items, { className: 'list' }) : make('p', say('Nothing')));
};

const item = async one => {
  const word = { kept: 'OnThisPhone', photos: 'Sending', sent: 'Sent', needs: 'NeedsYou' }[one.state];
  const photos = await photosOf(one.key);
  const when = new Date(one.kept + one.offset);
  const about = [`${say('KeptAt')} ${local(when).replace('T', ' ')}`];
  if (photos.length) about.push(`${photos.length} ${say('PhotosLeft')}`);
  const parts = [
    make('p', [`${one.name} `, make('span', say(word), { className: 'state' })], { className: 'what' }),
    make('p', about.join(' · '), { className: 'about' }),
  ];
  if (one.person !== person) parts.push(make('p', say('OfOther'), { className: 'about' }));
  if (one.state === 'needs') parts.push(...(await needs(one)));
  return make('li', parts);
};

const button = (word, act, plain) => make('button', say(word), {
  type: 'button', className: plain ? 'plain' : '', onclick: async () => { await act(); await show(); },
});

const needs = async one => {
  const parts = [];
  if (one.clock) parts.push(make('p', `${say('Clock')}${one.clock}`, { className: 'caution' }));
  const errors = (one.problem?.errors ?? []).map(e => `${e.pointer.slice(1)}: ${e.detail}`);
  const detail = errors.length ? errors.join('; ') : one.problem?.detail;
  if (detail) parts.push(make('p', detail, { className: 'caution' }));
  const mine = one.person === person;
  const buttons = [];
  if (one.status === 412 && mine) {
    parts.push(await sideBySide(one));
    const version = String(one.problem?.current_version ?? '');
    const fields = one.fields.map(([n, v]) => [n, n === 'version' ? version : v]);
    buttons.push(button('SendMine', async () => { await change(one, { fields, state: 'kept' }); await flush(); }));
    buttons.push(button('KeepTheirs', () => sure(one), true));
  } else if (mine) {
    const open = () => { location.href = `${one.page}#kept=${encodeURIComponent(one.key)}`; };
    if (!one.isPhoto) buttons.push(button('PutRight', open));
    const again = { state: one.isPhoto ? 'photos' : 'kept', clockSeen: true, clock: null };
    buttons.push(button('TryAgain', async () => { await change(one, again); await flush(); }, true));
    buttons.push(button('ThrowAway', () => sure(one), true));
  }
  parts.push(make('p', buttons, { className: 'links' }));
  return parts;
};
const sure = async one => { if (confirm(say('ThrowSure'))) await drop(one); };

// Mine beside what stands there now, field by field.
const sideBySide = async one => {
  let there = null;
  try {
    const answer = await fetch(one.page, { cache: 'no-store' });
    const read = new DOMParser().parseFromString(await answer.text(), 'text/html');
    there = read.getElementById(one.form);
  } catch { /* without signal only mine can be shown */ }
  const rows = [];
  for (const [name, mine] of one.fields) {
    const field = there?.elements.namedItem(name);
    if (!field || field.type === 'hidden') continue;
    const label = there.querySelector(`label[for="${field.id}"]`)?.firstChild?.textContent ?? name;
    if (field.value === mine) continue;
    const cells = [[say('Yours'), mine], [say('Now'), field.value]].map(([of, value]) => {
      const cell = make('td', value);
      cell.dataset.of = of;
      return cell;
    });
    rows.push(make('tr', [make('th', label.trim(), { scope: 'row' }), ...cells]));
  }
  const head = make('thead', make('tr', [make('td', ''), make('th', say('Yours')), make('th', say('Now'))]));
  return make('table', [head, make('tbody', rows)]);
};

// --- a kept entry, opened in its form ------------------------------------------------------------
const open = async () => {
  const key = new URLSearchParams(location.hash.slice(1)).get('kept');
  const one = key ? await entry(key) : null;
  const form = one && document.getElementById(one.form);
  if (!form) return;
  for (const [name, value] of one.fields) {
    const field = form.elements.namedItem(name);
    if (!field || name === 'version') continue;
    if (field.type === 'checkbox') field.checked = field.value === value;
    else field.value = value;
  }
  for (const tick of form.querySelectorAll('input[type=checkbox]')) {
    tick.checked = one.fields.some(([name, value]) => name === tick.name && value === tick.value);
  }
  form.dataset.opened = key;
  form.scrollIntoView();
};

const submit = async form => {
  const button = form.querySelector('button');
  button.disabled = true;
  let one;
  try {
    const opened = form.dataset.opened && (await entry(form.dataset.opened));
    one = await keep(form);
    if (opened && opened.key !== one.key) {
      const photos = await photosOf(opened.key);
      await write((s, p) => photos.forEach(photo => p.put({ ...photo, entry: one.key })));
      await write(s => s.delete(opened.key));
    }
  } catch (error) {
    button.disabled = false;
    const noPhoto = error.message === banner.dataset.photo;
    if (noPhoto || error.name === 'QuotaExceededError') {
      tell(form, noPhoto ? error.message : banner.dataset.noRoom);
    } else form.submit(); // A browser without storage sends it as any form is sent.
    return;
  }
  await flush();
  const now = await entry(one.key);
  if (now?.state === 'needs' && !now.clock && !now.isPhoto && !(await photosOf(one.key)).length) {
    // The server's own page says best what is wrong.
    await drop(now);
    form.querySelector('input[name=csrf]').value = text('csrf');
    form.submit();
  } else if (form.hasAttribute('data-along')) {
    button.disabled = false;
  } else {
    location.href = now?.state === 'sent' && now.see ? now.see : '/phone';
  }
};

const tell = (form, words) => {
  form.querySelector('.not-kept')?.remove();
  form.append(make('p', words, { className: 'errors not-kept', role: 'alert' }));
};

// --- pages that open without signal ---------------------------------------------------------------
const takeAlong = async () => {
  const answer = await ask('/phone/pages');
  if (!answer.ok) return;
  const pages = await caches.open('pages');
  let count = 0;
  for (const url of (await answer.json()).pages) {
    const got = await fetch(url, { cache: 'no-store' });
    if (got.ok && !got.redirected) { await pages.put(url, got); count += 1; }
  }
  remember('taken', String(Date.now()));
  const shown = document.getElementById('room');
  if (shown) shown.textContent = `${count} ${say('PagesKept')}`;
};

const begin = async () => {
  if (recall('person') !== person) {
    // Somebody else's pages are nobody's business; what was not sent stays.
    await caches.delete('pages');
    remember('person', person);
    remember('taken', '0');
  }
  const fresh = performance.getEntriesByType('navigation')[0]?.transferSize > 0;
  if (fresh) remember('offset', String(Number(text('now')) - Date.now()));
  for (const field of document.querySelectorAll('input[type=datetime-local]')) {
    // A page from the phone's store shows the hour at which it was made.
    const stale = now() - new Date(Number(text('now'))) > 60e3;
    if (stale && field.value === field.defaultValue && field.dataset.now !== undefined) field.value = local(now());
  }
  for (const form of document.querySelectorAll('form[data-keep]')) {
    form.addEventListener('submit', event => { event.preventDefault(); submit(form); });
  }
  document.getElementById('sign-out')?.addEventListener('submit', async event => {
    event.preventDefault();
    const left = (await entries()).some(e => e.person === person && e.state !== 'sent');
    if (left && !confirm(banner.dataset.signOut)) return;
    await caches.delete('pages');
    for (const one of await entries()) if (one.state === 'sent') await drop(one);
    remember('person', '');
    event.target.submit();
  });
  document.getElementById('send')?.addEventListener('click', flush);
  document.getElementById('take')?.addEventListener('click', () => takeAlong().catch(show));
  addEventListener('online', () => { signal = true; flush(); });
  addEventListener('offline', () => { signal = false; show(); });
  document.addEventListener('visibilitychange', () => { if (!document.hidden) flush(); });
  await open();
  await show();
  await flush();
  later();
  if ('serviceWorker' in navigator) await navigator.serviceWorker.register('/worker.js');
  const old = Date.now() - Number(recall('taken') ?? 0) > 6 * 3600e3;
  if (location.pathname === '/round' && signal && old) await takeAlong();
};

begin();

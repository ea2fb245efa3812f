// Forms that work without signal. A form marked data-keep is first kept on the phone, then sent;
// what can not be sent now is sent later, in the order in which it was kept, each entry by itself.
// Nothing leaves the phone before the server has said that it took it.

const text = name => document.querySelector(`meta[name="${name}"]`)?.content ?? '';
const person = text('person');
const banner = document.getElementById('phone');
const kept = document.getElementById('kept');
const SHOW_SENT_MS = 2 * 24 * 3600e3; // Sent entries are shown for two days,
const KEEP_SENT_MS = 14 * 24 * 3600e3; // and kept so that they can be sent again after a restore.
const PATIENCE_MS = 15e3; // And a second for each 4 KB that are sent.
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
const allPhotosOf = key => read('photos', s => wait(s.index('entry').getAll(key)));
const photosOf = async key => (await allPhotosOf(key)).filter(photo => !photo.sent);
// What was kept anew or thrown away meanwhile stays as it is.
const change = async (one, more) => {
  let next = { ...one, state: 'gone' };
  await write(s => {
    s.get(one.key).onsuccess = ({ target }) => {
      if (target.result?.kept !== one.kept) next = target.result ?? next;
      else { next = { ...target.result, ...more }; s.put(next); }
    };
  });
  return next;
};
const drop = async one => {
  const photos = await allPhotosOf(one.key);
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

// Of a form with several buttons the one that was tapped belongs to what it says.
const fieldsOf = (form, tapped) => {
  const fields = [];
  for (const [name, value] of new FormData(form)) {
    if (name !== 'csrf' && name !== 'by' && typeof value === 'string') fields.push([name, value]);
  }
  if (tapped?.name) fields.push([tapped.name, tapped.value]);
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

const keep = async (form, tapped) => {
  const fields = fieldsOf(form, tapped);
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
  const again = before && JSON.stringify(before.fields) === JSON.stringify(fields);
  if (before && !again && form.dataset.opened !== key) {
    // The same page, used a second time: another record. Only what was opened is put right.
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
    name: form.dataset.keep, kept: Math.max(Date.now(), (before?.kept ?? 0) + 1), offset: offset(),
    state: 'kept', first: Object.fromEntries(held(form).map(f => [f.name, f.first])),
  };
  await write((s, p) => { s.put(one); photos.forEach(photo => p.put(photo)); });
  navigator.storage?.persist?.();
  return one;
};
const page = () => location.pathname + location.search;

// --- sending ------------------------------------------------------------------------------------
const ask = async (url, options = {}, bytes = 0) => {
  const headers = { 'x-from-phone': '1', accept: 'application/json' };
  const signal = AbortSignal.timeout(PATIENCE_MS + bytes / 4);
  return fetch(url, { ...options, headers, signal, redirect: 'error', cache: 'no-store' });
};
const body = (fields, csrf) => {
  const form = new URLSearchParams(fields);
  form.set('csrf', csrf);
  return form;
};

class NoSignal extends Error {}

// One answer of the server about one thing: taken, refused for good, or not now.
const send = async (url, sent, bytes) => {
  let answer;
  try { answer = await ask(url, { method: 'POST', body: sent }, bytes); } catch { throw new NoSignal(); }
  if (answer.ok) return { taken: true, ...(await answer.json().catch(() => ({}))) };
  if ([401, 429, 502, 503, 504].includes(answer.status)) throw new NoSignal();
  // Trouble with this one alone: the others need not wait for it.
  if (answer.status >= 500) return { later: true };
  const problem = await answer.json().catch(() => ({}));
  return { taken: false, status: answer.status, problem };
};

const sendPhotos = async (one, who) => {
  const full = await room();
  for (const photo of await photosOf(one.key)) {
    const form = new FormData();
    form.set('csrf', who.csrf);
    form.set('id', photo.key);
    form.set('taken_at', photo.taken_at);
    form.set('photo', photo.blob, 'photo.jpg');
    const answer = await send(`/visits/${one.key}/photos`, form, photo.blob.size);
    if (answer.later) return one;
    if (!answer.taken) return change(one, { state: 'needs', problem: answer.problem, isPhoto: true });
    await write((s, p) => (full ? p.delete(photo.key) : p.put({ ...photo, sent: true })));
  }
  return change(one, { state: 'sent', ...taken(who), problem: null });
};

// When the server took it, by its own clock, and in which life of the records.
const taken = who => ({ sent: Date.now(), taken: Date.now() + who.offset, epoch: who.epoch });

// A restore of a backup begins another life of the records: what was taken after the backup is
// not in it, and is sent again as if it had never gone. It becomes one record all the same.
const sendAgain = async (one, who) => {
  if ((one.epoch ?? '0') === who.epoch) return;
  const isThere = one.taken < who.restored_to - CLOCK_MS;
  const photos = isThere ? [] : await allPhotosOf(one.key);
  await write((s, p) => photos.forEach(photo => p.put({ ...photo, sent: false })));
  await change(one, { epoch: who.epoch, ...(isThere ? {} : { state: 'kept', clockSeen: true }) });
};

const sendOne = async (one, who) => {
  const moved = Math.abs(who.offset - one.offset);
  if (moved > CLOCK_MS && !one.clockSeen) {
    return change(one, { state: 'needs', problem: null, clock: Math.round(moved / 60e3) });
  }
  const answer = await send(one.action, body(one.fields, who.csrf));
  if (answer.later) return one;
  if (!answer.taken) {
    return change(one, { state: 'needs', problem: answer.problem, status: answer.status });
  }
  const has = (await photosOf(one.key)).length > 0;
  return change(one, { state: has ? 'photos' : 'sent', ...taken(who), see: answer.see, problem: null });
};

// Who is signed in, and the server's clock; null without signal.
const whoIsIt = async () => {
  let answer;
  try { answer = await ask('/phone/token'); } catch { return null; }
  if (answer.status === 401) {
    // The sign-in was ended, here or by the office: the pages go, what is not sent stays.
    await caches.delete('pages');
    remember('taken', '0');
    return { person: '' };
  }
  if (!answer.ok) return null;
  const who = await answer.json();
  who.offset = who.now - Date.now();
  remember('offset', String(who.offset));
  return who;
};

let signal = navigator.onLine;
let signedOut = false;
let asked = false;
const flush = () => navigator.locks.request('traybook-send', async () => {
  const all = await entries();
  let waiting = all.filter(e => e.state === 'kept' || e.state === 'photos');
  const sent = all.filter(e => e.state === 'sent');
  for (const one of waiting.length ? [] : sent) {
    if (Date.now() - one.sent > KEEP_SENT_MS) await drop(one);
  }
  const restored = !asked && sent.some(e => e.person === person && (e.epoch ?? '0') !== text('epoch'));
  if (!waiting.length && !restored && signal) return;
  const who = await whoIsIt();
  signal = who !== null;
  signedOut = who?.person === '';
  if (who?.epoch) {
    asked = true;
    for (const one of sent) if (one.person === who.person) await sendAgain(one, who);
    waiting = (await entries()).filter(e => e.state === 'kept' || e.state === 'photos');
  }
  try {
    const mine = who ? waiting.filter(e => e.person === who.person) : [];
    for (const one of mine) if (one.state === 'kept') await sendOne(one, who);
    // What is written comes first; pictures are large and may take long.
    for (const one of await entries()) {
      if (mine.length && one.person === who.person && one.state === 'photos') await sendPhotos(one, who);
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
  if (waiting) say.push(`${banner.dataset.waiting} ${waiting}.`);
  if (needs) say.push(`${banner.dataset.needs} ${needs}.`);
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
    const said = make('p', make('span', word, { className: 'state' }), { className: 'kept-mark', tabIndex: -1 });
    said.setAttribute('role', 'status');
    const here = form.contains(document.activeElement) || document.activeElement === document.body;
    form.after(said);
    form.parentElement.className = one.state === 'sent' ? 'done' : 'open';
    if (here && form.dataset.tapped) said.focus();
  } else if (one && shown && one.state === 'sent') {
    shown.firstChild.textContent = banner.dataset.sent;
    form.parentElement.className = 'done';
  } else if (!one) shown?.remove();
};

const say = name => kept.dataset[`phone${name}`];
const list = async all => {
  const shown = all.filter(e => e.state !== 'sent' || Date.now() - e.sent < SHOW_SENT_MS);
  const items = await Promise.all(shown.reverse().map(item));
  kept.replaceChildren(items.length ? make('ul', items, { className: 'list' }) : make('p', say('Nothing')));
};

const item = async one => {
  const word = { kept: 'OnThisPhone', photos: 'Sending', sent: 'Sent', needs: 'NeedsYou' }[one.state];
  const photos = await photosOf(one.key);
  if (one.person !== person) return make('li', say('OfOther'), { className: 'about' });
  const when = new Date(one.kept + one.offset);
  const about = [`${say('KeptAt')} ${local(when).replace('T', ' ')}`];
  if (photos.length) about.push(`${photos.length} ${say('PhotosLeft')}`);
  const parts = [
    make('p', [`${one.name} `, make('span', say(word), { className: 'state' })], { className: 'what' }),
    make('p', about.join(' · '), { className: 'about' }),
  ];
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
    const { table, fields } = await sideBySide(one);
    parts.push(table);
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

// What the fields of a form hold and held at first, ticks and choices included, and how they read.
const held = form => {
  const all = new Map();
  for (const f of form.elements) {
    if (!f.name || f.name === 'csrf' || f.name === 'by') continue;
    if (f.type === 'file' || f.type === 'submit') continue;
    const picks = f.type === 'checkbox' || f.type === 'radio';
    const value = picks ? (f.checked ? f.value : '') : f.value;
    const chosen = f.options && ([...f.options].find(o => o.defaultSelected) ?? f.options[0]);
    const first = picks ? (f.defaultChecked ? f.value : '') : chosen ? chosen.value : f.defaultValue;
    const before = all.get(f.name);
    if (before && f.type === 'radio') {
      before.value ||= value;
      before.first ||= first;
      continue;
    }
    const label = form.querySelector(`label[for="${f.id}"]`) ?? f.closest('fieldset')?.querySelector('legend');
    const read = of => [...(f.options ?? [])].find(o => o.value === of)?.text || (picks && of ? '✓' : of) || '–';
    all.set(f.name, { name: f.name, value, first, read, hidden: f.type === 'hidden', label: label?.firstChild.textContent.trim() ?? f.name });
  }
  return [...all.values()];
};

// Mine beside what stands there now, field by field, and what sending mine would send: what this
// person changed, and for the rest what stands there.
const sideBySide = async one => {
  let there = null;
  try {
    const answer = await fetch(one.page, { cache: 'no-store' });
    const read = new DOMParser().parseFromString(await answer.text(), 'text/html');
    there = read.getElementById(one.form);
  } catch { /* without signal only mine can be shown */ }
  const rows = [];
  const fields = [];
  const now = there ? held(there) : [];
  for (const field of now) {
    const mine = get(one.fields, field.name);
    const changed = field.name !== 'version' && mine !== (one.first?.[field.name] ?? '');
    const value = changed ? mine : field.value;
    if (value) fields.push([field.name, value]);
    if (field.hidden || !changed || mine === field.value) continue;
    const { label } = field;
    const cells = [[say('Yours'), field.read(mine)], [say('Now'), field.read(field.value)]].map(([of, value]) => {
      const cell = make('td', value);
      cell.dataset.of = of;
      return cell;
    });
    rows.push(make('tr', [make('th', label, { scope: 'row' }), ...cells]));
  }
  const head = make('thead', make('tr', [make('td', ''), make('th', say('Yours')), make('th', say('Now'))]));
  const version = String(one.problem?.current_version ?? '');
  if (!now.length) fields.push(...one.fields.map(([n, v]) => [n, n === 'version' ? version : v]));
  return { table: make('table', [head, make('tbody', rows)]), fields };
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

const submit = async (form, tapped) => {
  const buttons = form.querySelectorAll('button:not([hidden])');
  const ready = is => { for (const button of buttons) button.disabled = !is; };
  ready(false);
  form.dataset.tapped = '1';
  let one;
  try {
    const opened = form.dataset.opened && (await entry(form.dataset.opened));
    one = await keep(form, tapped);
    if (opened && opened.key !== one.key) {
      const photos = await allPhotosOf(opened.key);
      await write((s, p) => photos.forEach(photo => p.put({ ...photo, entry: one.key })));
      await write(s => s.delete(opened.key));
    }
  } catch (error) {
    ready(true);
    const noPhoto = error.message === banner.dataset.photo;
    if (noPhoto || error.name === 'QuotaExceededError') {
      tell(form, noPhoto ? error.message : banner.dataset.noRoom);
    } else { // A browser without storage sends it as any form is sent.
      if (tapped?.name) {
        const { name, value } = tapped;
        form.append(make('input', [], { type: 'hidden', name, value }));
      }
      form.submit();
    }
    return;
  }
  await flush();
  const now = await entry(one.key);
  if (now?.state === 'needs' && now.status === 422) {
    // It stays on the phone, and is put right here.
    form.dataset.opened = now.key;
    ready(true);
    refuse(form, now.problem?.errors ?? []);
  } else if (form.hasAttribute('data-along')) {
    ready(true);
  } else {
    location.href = now?.state === 'sent' && now.see ? now.see : '/phone';
  }
};

// What is wrong, beside each field; the first one is gone to.
const refuse = (form, errors) => {
  for (const old of form.querySelectorAll('.wrong, .not-kept')) old.remove();
  for (const old of form.querySelectorAll('[aria-invalid]')) old.removeAttribute('aria-invalid');
  const other = [];
  let first = null;
  for (const { pointer, detail } of errors) {
    const field = form.elements.namedItem(pointer.slice(1));
    if (!(field instanceof HTMLElement)) { other.push(`${pointer.slice(1)}: ${detail}`); continue; }
    const words = make('p', detail, { className: 'wrong', id: `${field.id}-error` });
    field.setAttribute('aria-invalid', 'true');
    field.setAttribute('aria-describedby', words.id);
    field.closest('.asked')?.removeAttribute('hidden');
    field.closest('details')?.setAttribute('open', '');
    field.after(words);
    first ??= field;
  }
  if (other.length) tell(form, other.join('; '));
  first?.focus();
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
    if (!got.ok || got.redirected) continue;
    const headers = new Headers(got.headers);
    headers.set('x-kept-at', String(Date.now())); // The worker asks how old it is.
    await pages.put(url, new Response(await got.blob(), { status: got.status, headers }));
    count += 1;
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
  for (const field of document.querySelectorAll('input[data-now]')) {
    // A page from the phone's store shows the day and hour at which it was made.
    const stale = now() - new Date(Number(text('now'))) > 60e3;
    const fresh = field.type === 'date' ? local(now()).slice(0, 10) : local(now());
    if (stale && field.value === field.defaultValue) field.value = fresh;
  }
  for (const form of document.querySelectorAll('form[data-keep]')) {
    let clicked = null;
    form.addEventListener('click', event => { clicked = event.target.closest('button'); });
    form.addEventListener('submit', event => {
      event.preventDefault();
      const tapped = event.submitter ?? clicked;
      const answer = form.querySelector('button[name]');
      if (answer && !tapped?.name) answer.focus(); // Enter alone answers nothing.
      else submit(form, tapped);
    });
  }
  document.getElementById('sign-out')?.addEventListener('submit', async event => {
    event.preventDefault();
    const form = event.target;
    try {
      const left = (await entries()).some(e => e.person === person && e.state !== 'sent');
      if (left && !confirm(banner.dataset.signOut)) return;
      await caches.delete('pages');
      for (const one of await entries()) if (one.state === 'sent') await drop(one);
      remember('person', '');
    } catch { /* a phone that can not keep anything still signs out */ }
    form.submit();
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
  if (['/round', '/today'].includes(location.pathname) && signal && old) await takeAlong();
};

begin();

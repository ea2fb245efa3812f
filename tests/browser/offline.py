"""An officer's day without signal, in a real browser: everything that is saved stays on the phone
and reaches the server once, whatever breaks on the way.

    offline.py BINARY FOLDER
"""

import subprocess
import sys
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

from common import Server, launch, sign_in, with_playwright

WAIT = 20_000


def until(page, what, why):
    """Waits until a script's word holds."""
    try:
        page.wait_for_function(what, timeout=WAIT)
    except Exception:
        raise AssertionError(f"{why}: {page.url}\n{page.inner_text('body')[:1500]}") from None


ENTRIES = """() => new Promise(done => {
  const asked = indexedDB.open('traybook', 1);
  asked.onsuccess = () => {
    const all = asked.result.transaction('entries').objectStore('entries').getAll();
    all.onsuccess = () => done(all.result);
  };
})"""


def entries(page):
    return page.evaluate(ENTRIES)


def all_sent(page, why):
    for _ in range(100):
        if entries(page) and all(e["state"] == "sent" for e in entries(page)):
            return
        page.wait_for_timeout(200)
    raise AssertionError(f"{why}: {entries(page)}")


def states(page):
    return sorted(e["state"] for e in entries(page))


def photo(folder):
    """A picture as a phone takes it: larger than what is sent."""
    from PIL import Image
    path = Path(folder) / "tray.jpg"
    Image.effect_noise((2400, 1800), 60).convert("RGB").save(path, quality=92)
    return path


def log_visit(page, server, farm, advice, picture=None):
    page.goto(f"{server.base}/farms/{farm}/visit")
    page.locator(".taps label").nth(0).click()
    page.locator(".taps label").nth(4).click()
    page.fill("#visit-temperature_c", "27,5")
    page.fill("#visit-humidity_percent", "86")
    page.fill("#visit-advice", advice)
    page.fill("#visit-follow-up-1-action", "Raise the back of the shelf")
    page.fill("#visit-follow-up-1-due_on", "2026-12-24")
    if picture:
        page.set_input_files("#visit-photos", str(picture))
    page.click("#visit button")


def visits_with(server, advice):
    found = server.api("officer", "/v1/visits?limit=200")["items"]
    return [v for v in found if v["advice"] == advice]


def the_disk_is_lost(page, server, farm, picture):
    database = next(server.folder.glob("demo-*.sqlite"))
    backups = server.folder / "backups"

    def run(*args):
        data = ["--data", str(server.folder), "--database-url", f"sqlite:{database}"]
        subprocess.run([server.binary, *data, *args], check=True, stdout=subprocess.DEVNULL)

    run("backup", str(backups))
    log_visit(page, server, farm, "after the backup", picture)
    until(page, "() => !location.pathname.startsWith('/farms/')", "the visit is sent")
    page.goto(server.base + "/phone")
    all_sent(page, "sent after the backup")
    assert len(visits_with(server, "after the backup")) == 1
    server.stop()
    for end in ("", "-wal", "-shm"):
        Path(f"{database}{end}").unlink(missing_ok=True)
    run("restore", str(next(backups.iterdir())))
    server.start()
    server.tokens.clear()
    assert not visits_with(server, "after the backup"), "it is lost on the server"
    sign_in(page, server, "officer")
    page.goto(server.base + "/phone")
    for _ in range(100):
        if visits_with(server, "after the backup"):
            break
        page.wait_for_timeout(200)
    all_sent(page, "sent again")
    [visit] = visits_with(server, "after the backup")
    photos = server.api("officer", f"/v1/photos?visit_id={visit['id']}")["items"]
    assert len(photos) == 1, photos


def main(binary, folder):
    server = Server(binary, folder)
    picture = photo(folder)
    browser_files = tempfile.mkdtemp(dir=folder)
    with with_playwright() as playwright:
        phone = launch(playwright, browser_files)
        page = phone.pages[0]
        errors = []
        page.on("pageerror", lambda e: errors.append(str(e)))
        sign_in(page, server, "officer")
        until(page, "() => navigator.serviceWorker.controller || navigator.serviceWorker.ready", "a worker")
        page.goto(server.base + "/phone")
        page.click("#take")
        until(page, "() => /\\d+ /.test(document.getElementById('room').textContent)", "pages are taken along")
        farm = server.api("officer", "/v1/visit-list")["items"][0]["farm_id"]

        # 1. The server is gone: pages open, a visit with a photo is kept.
        server.stop(hard=True)
        page.goto(server.base + "/round")
        assert page.locator("ul.list li").count() > 0, "the round opens without signal"
        page.goto(server.base + "/trainings")
        assert page.url.endswith("/trainings") and page.locator("a[href='/trainings/new']").count() > 0, \
            "the trainings open without signal"
        log_visit(page, server, farm, "offline one", picture)
        until(page, "() => location.pathname === '/phone'", "after saving, the page of what is kept")
        assert states(page) == ["kept"], states(page)
        until(page, "() => !document.getElementById('phone').hidden", "it says that there is no signal")

        # 2. A line of work is kept in place and not asked for again.
        page.goto(f"{server.base}/today?farm_id={farm}")
        line = page.locator("form[data-along]").filter(has_not=page.locator("input[name=kg]")).first
        key = line.locator("input[name=line]").input_value()
        line.locator("button").click()
        until(page, "() => document.querySelector('.kept-mark')", "the line is marked as kept")
        assert not line.is_visible()

        # 3. The browser is closed and opened again: nothing is lost.
        phone.close()
        phone = launch(playwright, browser_files)
        page = phone.pages[0]
        page.goto(server.base + "/phone")
        assert states(page) == ["kept", "kept"], states(page)

        # 4. The server is back: both are sent, the photo too, once.
        server.start()
        page.goto(server.base + "/phone")
        page.click("#send")
        all_sent(page, "both are sent")
        visits = visits_with(server, "offline one")
        assert len(visits) == 1, visits
        visit = visits[0]
        photos = server.api("officer", f"/v1/photos?visit_id={visit['id']}")["items"]
        assert len(photos) == 1, photos
        checks = server.api("officer", f"/v1/visit-checks?visit_id={visit['id']}")["items"]
        assert sorted(c["answer"] for c in checks) == ["no", "yes"], checks
        work = server.api("officer", f"/v1/work?farm_id={farm}")["farms"][0]["lines"]
        done = [w for w in work if w["line"] == key]
        assert not done or done[0]["state"] == "done", done

        # 5. The answer is lost on the way: it is sent again, and is one record all the same.
        server.stop()
        log_visit(page, server, farm, "answer lost")
        until(page, "() => location.pathname === '/phone'", "kept")
        server.start()
        lost = []

        def lose(route):
            if route.request.method == "POST" and not lost:
                lost.append(route.fetch().status)  # It arrives; the answer does not.
                route.abort()
            else:
                route.continue_()

        page.route(f"**/farms/{farm}/visit", lose)
        page.goto(server.base + "/phone")
        page.click("#send")
        all_sent(page, "sent again")
        page.unroute(f"**/farms/{farm}/visit")
        found = visits_with(server, "answer lost")
        assert lost == [200] and len(found) == 1, (lost, len(found), entries(page))

        # 5b. The line breaks between two photos: the second follows later, the first is not doubled.
        broken = []

        def breaks(route):
            broken.append(1)
            route.abort() if len(broken) == 2 else route.continue_()

        page.route("**/visits/*/photos", breaks)
        page.goto(f"{server.base}/farms/{farm}/visit")
        page.fill("#visit-advice", "two photos")
        page.set_input_files("#visit-photos", [str(picture), str(picture)])
        page.click("#visit button")
        until(page, "() => !location.pathname.startsWith('/farms/')", "the visit is sent")
        page.goto(server.base + "/phone")
        page.click("#send")
        all_sent(page, "the second photo follows")
        page.unroute("**/visits/*/photos")
        visit = visits_with(server, "two photos")[0]
        photos = server.api("officer", f"/v1/photos?visit_id={visit['id']}")["items"]
        assert len(photos) == 2 and len(broken) >= 3, (photos, broken)

        # 5c. One page from the phone's store, used for two visits: two records.
        server.stop()
        for advice in ("first of two", "second of two"):
            log_visit(page, server, farm, advice)
            until(page, "() => location.pathname === '/phone'", "kept")
        assert states(page).count("kept") == 2, states(page)
        server.start()
        page.goto(server.base + "/phone")
        page.click("#send")
        all_sent(page, "both are sent")
        for advice in ("first of two", "second of two"):
            assert len(visits_with(server, advice)) == 1, advice

        # 6. Two tabs send at the same time: still one record each.
        server.stop()
        log_visit(page, server, farm, "two tabs")
        until(page, "() => location.pathname === '/phone'", "kept")
        other = phone.new_page()
        other.goto(server.base + "/phone")
        server.start()
        page.evaluate("document.getElementById('send').click()")
        other.evaluate("document.getElementById('send').click()")
        all_sent(page, "sent")
        other.close()
        assert len(visits_with(server, "two tabs")) == 1

        # 7. The server refuses what was kept: it needs the officer, opens filled in, and is sent.
        server.stop()
        page.goto(f"{server.base}/farms/{farm}/animals")
        page.fill("#count-head", "many")
        page.click("#count button")
        until(page, "() => location.pathname === '/phone'", "kept")
        server.start()
        page.click("#send")
        until(page, "() => document.querySelector('#kept li button')", "it needs the officer")
        assert "needs" in states(page)
        page.locator("#kept li button").first.click()
        until(page, "() => document.getElementById('count-head')?.value === 'many'", "it opens as it was typed")
        page.fill("#count-head", "5")
        page.click("#count button")
        until(page, "() => location.search.includes('saved')", "put right and sent")
        assert "needs" not in states(page) and "kept" not in states(page), states(page)

        # 8. Somebody else corrects the same record meanwhile: both versions side by side.
        batches = server.api("officer", f"/v1/batches?farm_id={farm}&limit=1")["items"]
        event = server.api("officer", f"/v1/batch-events?batch_id={batches[0]['id']}")["items"][0]
        page.goto(f"{server.base}/events/{event['id']}")
        server.stop()
        page.fill("#event-note", "as the officer saw it")
        page.click("#event button")
        until(page, "() => location.pathname === '/phone'", "kept")
        server.start()
        server.api("manager", f"/v1/batch-events/{event['id']}",
                   {"note": "as the office heard it", "mould_seen": True, "if_match": f"\"{event['version']}\""}, "PATCH")
        page.goto(server.base + "/phone")
        page.click("#send")
        until(page, "() => document.querySelector('#kept table')", "both are shown")
        shown = page.inner_text("#kept table")
        assert "as the officer saw it" in shown and "as the office heard it" in shown, shown
        page.locator("#kept li button").first.click()
        until(page, "() => !document.querySelector('#kept table')", "mine is sent")
        now = server.api("officer", f"/v1/batch-events/{event['id']}")
        assert now["note"] == "as the officer saw it", now
        assert now["mould_seen"] is True, "what the officer did not change stays as it is there"
        history = server.api("officer", f"/v1/batch-events/{event['id']}/history")["items"]
        assert any(v["record"].get("note") == "as the office heard it" for v in history), "nothing is lost"

        # 9. The clock of the phone is an hour ahead: times are the server's all the same.
        page.goto(server.base + "/phone")
        phone.add_init_script("""{
          const Real = Date, by = 3600e3;
          globalThis.Date = class extends Real {
            constructor(...a) { if (a.length) super(...a); else super(Real.now() + by); }
            static now() { return Real.now() + by; }
          };
        }""")
        page.goto(f"{server.base}/today?farm_id={farm}")
        lines = page.locator("form[data-along]").filter(has_not=page.locator("input[name=kg], select"))
        key = lines.first.locator("input[name=line]").input_value()
        lines.first.locator("button").click()
        until(page, "() => document.querySelector('.kept-mark')", "recorded")
        all_sent(page, "sent with a wrong clock")
        sent = [e for e in entries(page) if dict(e["fields"]).get("line") == key][0]
        at = datetime.fromisoformat(dict(sent["fields"])["at"].replace("Z", "+00:00"))
        apart = datetime.now(timezone.utc) - at
        assert abs(apart) < timedelta(minutes=5), (sent, "the time is the server's")

        # 10. Signing out keeps what is not sent, and takes the pages away.
        server.stop()
        log_visit(page, server, farm, "before signing out")
        until(page, "() => location.pathname === '/phone'", "kept")
        server.start()
        page.route("**/phone/token", lambda r: r.abort())
        page.goto(server.base + "/phone")
        page.on("dialog", lambda d: d.accept())
        page.click("#sign-out button")
        until(page, "() => location.pathname === '/sign-in'", "signed out")
        assert page.evaluate("caches.has('pages')") is False, "no page of the officer is left"
        assert states(page).count("kept") == 1
        sign_in(page, server, "member")
        page.unroute("**/phone/token")
        page.goto(server.base + "/phone")
        page.click("#send")
        page.wait_for_timeout(1500)
        assert states(page).count("kept") == 1, "somebody else does not send it"
        assert not visits_with(server, "before signing out")
        page.click("#sign-out button")
        until(page, "() => location.pathname === '/sign-in'", "signed out")
        sign_in(page, server, "officer")
        page.goto(server.base + "/phone")
        all_sent(page, "sent by its officer")
        assert len(visits_with(server, "before signing out")) == 1

        # 11. The phone is lost: the office ends its sign-ins. The next contact takes the pages away,
        # and what is not sent stays, for its officer.
        page.goto(server.base + "/phone")
        page.click("#take")
        until(page, "() => /\\d+ /.test(document.getElementById('room').textContent)", "pages once more")
        server.stop()
        log_visit(page, server, farm, "before it was lost")
        until(page, "() => location.pathname === '/phone'", "kept")
        # A stored page that is older than a few hours is shown while nobody answers.
        page.evaluate("""async () => {
          const pages = await caches.open('pages');
          for (const key of await pages.keys()) {
            const kept = await pages.match(key);
            const headers = new Headers(kept.headers);
            headers.set('x-kept-at', String(Date.now() - 24 * 3600e3));
            await pages.put(key, new Response(await kept.blob(), { status: kept.status, headers }));
          }
        }""")
        page.goto(server.base + "/round")
        assert page.locator("ul.list li").count() > 0, "the round opens without signal"
        server.start()
        server.end_sign_ins("officer")
        page.route("**/round", lambda r: r.abort())  # The page itself can not be asked for.
        try:
            page.goto(server.base + "/round")
        except Exception:  # noqa: BLE001 - the browser's own page for a failed load
            pass
        page.unroute("**/round")
        page.goto(server.base + "/round")
        until(page, "() => location.pathname === '/sign-in'", "signed out by the office")
        until(page, "async () => !(await caches.has('pages'))", "no page of the officer is left")
        assert states(page).count("kept") == 1, "what is not sent stays"
        server.restore_login("officer")
        sign_in(page, server, "officer")
        page.goto(server.base + "/phone")
        all_sent(page, "sent by its officer")
        assert len(visits_with(server, "before it was lost")) == 1
        # 12. The disk is lost: what was sent after the backup is sent again, once.
        the_disk_is_lost(page, server, farm, picture)

        # 12. No room on the phone: the form stays filled in and says so.
        page.goto(f"{server.base}/farms/{farm}/animals")
        page.evaluate("""() => { IDBObjectStore.prototype.put = function () {
          throw new DOMException('full', 'QuotaExceededError'); }; }""")
        page.fill("#count-head", "6")
        page.click("#count button")
        until(page, "() => document.querySelector('.not-kept')", "it says that there is no room")
        assert page.input_value("#count-head") == "6"
        assert not errors, errors
        phone.close()
    server.stop()
    print("offline: all steps passed")


if __name__ == "__main__":
    main(*sys.argv[1:])

"""Each role's day in a real browser, in both languages: what a new user does first, page after
page, with every page checked for accessibility (axe-core: WCAG 2.2 A and AA), size and fit.

    days.py BINARY FOLDER [PICTURES]

PICTURES is a folder for the README's screenshots.
"""

import re
import sys
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from common import LAPTOP, PHONE, Server, choose_language, fits, launch, no_text_is_missing, sign_in, with_playwright
from many import many

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
FORM_BYTES = 14_000  # page and style, compressed: what the first view of a form needs
SCREENS = 6  # of a phone, for any page
PAGE_BYTES = 50_000  # everything that a page loads, compressed


class Person:
    """Somebody with a browser, whose pages are looked at one by one."""

    def __init__(self, playwright, server, role, language, size, pictures=None):
        self.server, self.role, self.language = server, role, language
        self.browser = launch(playwright)
        self.context = self.browser.new_context(viewport=size, accept_downloads=True, service_workers="block")
        self.page = self.context.new_page()
        self.errors = []
        self.page.on("pageerror", lambda e: self.errors.append(str(e)))
        self.page.on("console", lambda m: self.errors.append(m.text) if m.type == "error" else None)
        self.bytes = {}
        cdp = self.context.new_cdp_session(self.page)
        cdp.send("Network.enable")
        urls = {}
        cdp.on("Network.responseReceived", lambda e: urls.__setitem__(e["requestId"], e["response"]["url"]))
        cdp.on("Network.loadingFinished", lambda e: self.bytes.__setitem__(
            urls.get(e["requestId"], ""), e["encodedDataLength"]))
        self.pictures = pictures
        self.seen = set()
        sign_in(self.page, server, role)
        self.look()
        choose_language(self.page, language)

    def go(self, path):
        answer = self.page.goto(self.server.base + path)
        assert answer.status == 200, f"{path}: {answer.status}"
        self.look()

    def click(self, selector):
        self.page.click(selector)
        self.page.wait_for_load_state()
        refused = self.page.locator("#wrong")
        assert not refused.count(), refused.inner_text()
        self.look()

    def look(self):
        """Looks at the page that is open."""
        page = self.page
        page.wait_for_load_state()
        path = page.url.removeprefix(self.server.base)
        no_text_is_missing(page)
        fits(page)
        kind = re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}|\?.*|#.*", "", path)
        if kind in self.seen:
            return
        self.seen.add(kind)
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}})
        bad = found.response["violations"]
        assert not bad, f"{self.role} {path}: " + "; ".join(
            f"{v['id']}: {v['help']}: {[n['html'][:160] for n in v['nodes'][:3]]}" for v in bad)
        self.weigh(path)
        # First what needs a decision, the rest one tap away.
        screens = page.evaluate("document.documentElement.scrollHeight") / PHONE["height"]
        is_phone = page.viewport_size["width"] == PHONE["width"]
        assert not is_phone or screens <= SCREENS, f"{path}: {screens:.1f} screens of a phone"

    def weigh(self, path):
        html = [n for url, n in self.bytes.items() if url.split("#")[0] == self.page.url.split("#")[0]]
        style = [n for url, n in self.bytes.items() if "/style.css" in url]
        rest = [n for url, n in self.bytes.items() if "/phone.js" in url or "/icon.svg" in url]
        if not html or not style:
            return
        first, whole = html[-1] + style[0], html[-1] + style[0] + sum(rest)
        has_form = self.page.locator("main form").count() > 0
        assert not has_form or first <= FORM_BYTES, f"{path}: {first} bytes to the first view"
        assert whole <= PAGE_BYTES, f"{path}: {whole} bytes"

    def picture(self, name):
        if self.pictures:
            path = Path(self.pictures) / f"{name}.png"
            self.page.screenshot(path=str(path))
            # Few colours: the pages have no more, and the repository stays small.
            Image.open(path).convert("RGB").quantize(32).save(path, optimize=True)

    def download(self, selector, begin):
        with self.page.expect_download() as got:
            self.page.click(selector)
        content = Path(got.value.path()).read_bytes()
        assert content.startswith(begin), (selector, content[:40])

    def end(self):
        assert not self.errors, self.errors
        self.browser.close()


def member(p):
    p.go("/today")
    p.picture("member-today")
    lines = p.page.locator("form.line:has(input[name=line])").filter(has_not=p.page.locator("input[name=kg], select"))
    key = lines.first.locator("input[name=line]").input_value()
    lines.first.locator("button").click()
    p.page.wait_for_function(
        "key => document.querySelector(`input[value=\"${key}\"]`)?.form.hidden !== false", arg=key)
    p.go("/today")
    assert not p.page.locator(f"input[value='{key}']").count(), "what is done is not asked again"
    p.go("/output")
    form = p.page.locator("form.page").first
    # A farm that milks twice has two fields; both habits are on the medium demo.
    for field in form.locator("input[name$=litres]:not([name=sold_litres])").all():
        field.fill("7,5")
    form.locator("input[name=animals_in_milk]").fill("1")
    form.locator("button").click()
    p.page.wait_for_timeout(800)
    if p.page.locator(".wrong").count():
        # What is written already, or far from the usual, is asked back; then it is kept.
        p.picture("member-asked-back")
        # The browser reports the refused form that was meant to be refused.
        p.errors = [e for e in p.errors if "422" not in e]
        again = p.page.locator("select[name=again]").first
        if again.is_visible():
            again.select_option("instead")
        sure = p.page.locator("input[name=sure]").first
        if sure.is_visible():
            sure.check()
        form.locator("button").click()
    p.page.wait_for_url("**/output?saved=milk-records.*")
    assert p.page.locator(".notice").count(), "what was saved is said"
    p.look()
    p.go("/batches")
    more = p.page.locator(".unfold").first
    if more.is_visible():
        more.click()  # On a telephone the rest of a list is one tap away.
    p.click("ul.list .what a >> nth=4")
    assert p.page.locator("svg[role=img]").count() == 1
    p.picture("member-batch")
    p.go("/result")
    p.picture("member-result")
    p.click("main .links a[href$='/book']")
    p.click("main .links a[href$='/other-costs']")
    p.page.select_option("#book-category", "labour")
    p.page.fill("#book-amount", "1500")
    p.page.click("#book button")
    p.page.wait_for_url("**/book?saved=*")
    p.look()
    # A feed of which none was bought: either button is an answer.
    bought = p.server.api("member", "/v1/feed-purchases?limit=200")["items"]
    bought = {b["feed_id"] for b in bought if b["kg"]}
    feeds = p.server.api("member", "/v1/feeds?limit=200")["items"]
    p.click("main .links a[href$='/nothing-bought']")
    p.page.select_option("#nothing-feed_id", next(f["id"] for f in feeds if f["id"] not in bought))
    p.page.click("#nothing button[value=none]")
    p.page.wait_for_url("**/book?saved=none.*")
    p.look()
    p.go("/account")
    p.go("/ask")
    p.page.select_option("#ask-about", "milk")
    p.page.fill("#ask-wish", f"It was 7 litres ({p.language}).")
    p.page.click("#ask button")
    p.page.wait_for_url("**/ask?saved=*")
    p.look()
    p.go("/phone")


def officer(p):
    p.go("/round")
    p.picture("officer-round")
    p.click("ul.list .what a")
    farm = p.page.url.split("/farms/")[1]
    p.picture("officer-farm")
    p.go(f"/farms/{farm}/visit")
    p.picture("officer-visit")
    for at in range(0, 9, 3):
        p.page.locator(".taps label").nth(at).click()
    p.page.fill("#visit-temperature_c", "23")
    p.page.fill("#visit-humidity_percent", "71")
    p.page.fill("#visit-advice", "Level the shelf.")
    p.page.fill("#visit-follow-up-1-action", "Level the shelf")
    p.page.fill("#visit-follow-up-1-due_on", "2030-01-05")
    p.page.click("#visit button")
    p.page.wait_for_url("**/visits/*")
    p.look()
    p.click("ul.list .what a")
    p.page.locator("#follow .taps label").first.click()
    p.page.click("#follow button")
    p.page.wait_for_url("**/farms/*")
    p.look()
    p.go("/farms/new")
    code = f"N{p.language}"
    # Codes and numbers are the server's to make; the form is at most three screens of a phone.
    height = p.page.evaluate("document.documentElement.scrollHeight")
    assert height <= 3 * 740, f"the form is {height} px high"
    for name, value in {"name": f"Neema {code}", "shed-tray_places": "20", "group-1-head": "3"}.items():
        p.page.fill(f"#farm-{name}", value)
    p.page.select_option("#farm-group-1-animal_class", "dairy_cows")
    p.page.click("#farm button")
    p.page.wait_for_url("**/plan?saved=*")
    p.look()
    p.picture("officer-plan")
    # Bad input: the reason stands beside the field, and what was typed stays.
    p.go(f"/farms/{farm}/animals")
    p.page.fill("#count-head", "-4")
    p.page.click("#count button")
    p.page.wait_for_selector("#count-head[aria-invalid]")
    assert p.page.input_value("#count-head") == "-4"
    p.seen.discard(f"/farms//animals")
    p.errors[:] = [e for e in p.errors if "422" not in e]
    p.look()
    for page in ("batch", "labels", "plan", "calendar"):
        p.go(f"/farms/{farm}/{page}")
    p.page.click("#make button")
    p.page.wait_for_selector("figcaption")
    p.look()
    p.page.click("form[id^=end-] button")
    p.go(f"/batches?farm={farm}")
    p.click("ul.list .what a")
    p.click("main .links a[href$='/correct']")
    p.click(".back a")
    p.click("main .links a[href$='/events']")
    p.click("tbody th a")
    p.go(f"/farms/{farm}/book")
    p.picture("officer-book")
    for kind in ("baseline-rations", "fodder-plans", "seed-issues", "seed-payments", "other-costs", "assets"):
        p.go(f"/farms/{farm}/book/{kind}")
    p.go(f"/farms/{farm}/book/feed-purchases")
    p.page.select_option("#book-feed_id", index=1)
    p.page.fill("#book-kg", "12,5")
    p.page.fill("#book-cost", "9000")
    p.page.click("#book button")
    p.page.wait_for_url("**/book?saved=*")
    p.look()
    p.click("#feed-purchase ~ table tbody th a")
    p.go("/farms")
    # A training is planned, and marked with a tap a person and one to save.
    p.go("/trainings")
    p.picture("officer-trainings")
    p.click("main .links a[href='/trainings/new']")
    p.page.fill("#training-topic", "Clean trays")
    p.page.click("#training button")
    p.page.wait_for_url("**/trainings/*saved=*")
    p.look()
    for at in (0, 1):
        p.page.locator("#register .tick input").nth(at).check()
    p.page.click("#register button")
    p.page.wait_for_url("**/trainings/*saved=1*")
    p.look()
    p.picture("officer-register")
    assert p.page.locator("#register .tick input:checked").count() == 2
    p.click("main .links a[href*='repeat=']")
    assert p.page.input_value("#training-topic") == "Clean trays"
    p.go("/review")
    p.go("/phone")


def manager(p):
    p.go("/month")
    p.picture("manager-month")
    p.go("/savings")
    p.picture("manager-savings")
    p.download("a[href^='/savings.xlsx']", b"PK")
    p.download("a[href^='/savings.pdf']", b"%PDF")
    p.download("a[href^='/savings.csv']", b"month,")
    p.go("/board")
    p.download("a[href*='anonymous']", b"%PDF")
    p.go("/owed")
    p.go("/pay-run")
    p.download("a[href^='/pay-run.csv']", b"member_number,")
    p.go("/round?order=way")
    p.go("/security")
    p.go("/own")
    p.go("/farms")
    p.click("main ul.list a[href^='/farms/']")
    p.click("main a[href^='/members/']")
    p.go("/spoilage")
    p.click("tbody th a")
    p.picture("manager-evidence")
    if p.page.locator("#flag").count():
        p.page.select_option("#flag-cause", "mould")
        p.page.fill("#flag-seen_on", p.page.evaluate("new Date(Date.now() + 3 * 3600e3).toISOString().slice(0, 10)"))
        p.click("#flag button")
    p.go("/seed")
    p.click("main .links a[href='/store']")
    p.picture("manager-store")
    for kind in ("seed-purchases", "seed-lots", "seed-adjustments", "suppliers", "feeds"):
        p.go(f"/store/{kind}")
    p.go("/store?kind=seed-lots")
    p.go("/people")
    p.page.fill("#person-code", f"reader-{p.language}")
    p.page.fill("#person-name", "Juma Mfano")
    p.page.select_option("#person-role", "programme_reader")
    p.page.fill("#person-email", f"juma.{p.language}@nyota.example")
    p.click("#person button")
    p.click("#code button")
    assert p.page.locator("p.notice").count() == 1, "the code is shown"
    p.go("/guide")
    p.page.select_option("#value-name", "seed_bag_kg")
    p.page.fill("#value-value", "50")
    p.click("#value button")
    p.go("/import")
    good = f"name\nHill {p.language}\n".encode()
    bad = b"name,dry_matter_percent\nHusks,lots\n"
    files = [{"name": "areas.csv", "mimeType": "text/csv", "buffer": good},
             {"name": "feeds.csv", "mimeType": "text/csv", "buffer": bad}]
    p.page.set_input_files("#import-files", files)
    p.click("#import button")
    assert "Husks, lots" in p.page.inner_text("main"), "the bad row is shown in place"
    p.picture("manager-import")
    p.click("#take button[name=how]")
    for page in ("/review", "/close", "/office", "/year", "/owed", "/first", "/setup", "/people/invitations",
                 "/own", "/security"):
        p.go(page)
    p.go("/trainings")
    p.click("ul.list .what a")
    p.click("main .links a[href$='/correct']")
    # What feeds are worth, with the prices that members paid.
    p.go("/feed-value")
    p.click("main .links a[href^='/feed-mix']")
    p.page.fill("#ask-dry_matter_kg", "100")
    p.page.fill("#ask-protein", "14")
    p.click("#ask button")
    assert p.page.locator("main table tbody tr").count() > 1, "a mix is found"
    p.picture("manager-mix")
    p.go("/break-even")
    p.go("/suppliers")
    p.go("/totals")
    p.go("/farms")
    p.click("ul.list .what a")
    p.go("/today")


def programme_reader(p):
    p.go("/totals")
    p.picture("reader-totals")
    p.download("a[href^='/totals.csv']", b"month,")
    p.download("a[href^='/indicators.csv']", b"from,")
    p.download("a[href^='/indicators.xlsx']", b"PK")


def operator(p):
    p.go("/people")
    p.click("tbody th a")
    p.go("/server")


ROLES = [("member", member, PHONE), ("officer", officer, PHONE), ("manager", manager, LAPTOP),
         ("programme_reader", programme_reader, LAPTOP), ("operator", operator, LAPTOP)]


def without_script(playwright, server):
    """The same forms by a browser without script, and by keyboard alone."""
    browser = launch(playwright)
    page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
    sign_in(page, server, "member")
    form = page.locator("form.line:has(input[name=line])").filter(has_not=page.locator("input[name=kg], select")).first
    key = form.locator("input[name=line]").get_attribute("value")
    form.locator("button").click()
    page.wait_for_load_state()
    assert "/today" in page.url and not page.locator(f"input[value='{key}']").count()
    page.goto(server.base + "/ask")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    # The first key leads to the content; a busy machine takes a moment for it.
    page.wait_for_url("**/ask#content", timeout=5000)
    browser.close()


def slow_line(playwright, server):
    """How long the first view takes on 400 kbit/s with 400 ms to and fro. Printed, not judged."""
    for role, path in (("member", "/today"), ("officer", "/round"), ("manager", "/month")):
        browser = launch(playwright)
        context = browser.new_context(viewport=PHONE, service_workers="block")
        page = context.new_page()
        sign_in(page, server, role)
        fresh = context.new_page()
        cdp = context.new_cdp_session(fresh)
        cdp.send("Network.enable")
        cdp.send("Network.clearBrowserCache")
        cdp.send("Network.setCacheDisabled", {"cacheDisabled": True})
        cdp.send("Network.emulateNetworkConditions", {
            "offline": False, "latency": 400, "downloadThroughput": 50_000, "uploadThroughput": 50_000})
        fresh.goto(server.base + path)
        fresh.wait_for_function("() => performance.getEntriesByName('first-contentful-paint').length > 0")
        paint = fresh.evaluate("performance.getEntriesByName('first-contentful-paint')[0]?.startTime")
        ready = fresh.evaluate("performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd")
        print(f"first view on 400 kbit/s, 400 ms: {role} {path}: painted {paint / 1000:.1f} s, to use {ready / 1000:.1f} s")
        browser.close()


def main(binary, folder, pictures=None):
    server = Server(binary, folder)
    with with_playwright() as playwright:
        for language in ("en", "sw"):
            for role, day, size in ROLES:
                person = Person(playwright, server, role, language, size, pictures if language == "en" else None)
                day(person)
                print(f"{role} in {language}: {len(person.seen)} pages looked at")
                person.end()
        # The laptop's pages on a phone, and the phone's on a laptop.
        for role, day, size in ROLES:
            other = LAPTOP if size == PHONE else PHONE
            person = Person(playwright, server, role, "en", other)
            for path in sorted(p for p in {"member": ["/today", "/result", "/batches"], "officer": ["/round", "/farms"],
                                           "manager": ["/month", "/savings", "/spoilage", "/seed", "/people", "/guide", "/service"],
                                           "programme_reader": ["/totals"], "operator": ["/people", "/server"]}[role]):
                person.go(path)
            person.end()
        without_script(playwright, server)
        slow_line(playwright, server)
        server.stop()
        many(playwright, binary, Path(folder).with_name(Path(folder).name + "-many"))
    print("days: all roles passed")


if __name__ == "__main__":
    main(*sys.argv[1:])

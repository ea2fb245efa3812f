"""Every page of every role on a telephone, in a co-operative with 60 farms, in both languages: none
longer than some screens, none wider than one. One page of each kind is looked at.

    many.py BINARY FOLDER
"""

import re
import sys

from playwright.sync_api import Error
from common import PHONE, Server, choose_language, launch, no_text_is_missing, sign_in, with_playwright

SCREENS = 6  # of a phone, for any page
FARMS = 60  # at least
ROLES = ["member", "officer", "manager", "programme_reader", "operator"]
# What is sent as a file or drawn for a printer, what ends the visit, and the interface's own pages.
SKIPPED = re.compile(r"\.(csv|pdf|xlsx|ics|svg|json|txt|css|js)$|^/(docs|v1|sign-out|sign-in|photos|phone/pages)\b|sheet$|/print\b")
# Codes in addresses stand for many pages of one kind.
ID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}")
# Words of the address that change what a page shows, and how much.
ASKED = re.compile(r"[?&](kind|by|order|show|all|more|area|of|list|period)=([^&]*)")


def kind(path):
    asked = sorted(f"{name}={ID.sub('', value)}" for name, value in ASKED.findall(path))
    return ID.sub("*", path.split("?")[0]) + "?" + "&".join(asked)


def measure(page):
    return page.evaluate("""() => {
        const root = document.documentElement;
        return [root.scrollHeight, root.scrollWidth - root.clientWidth];
    }""")


def walk(playwright, server, role, language):
    """Follows every link of the same site once a kind of page. What is too long or too wide."""
    browser = launch(playwright)
    context = browser.new_context(viewport=PHONE, service_workers="block")
    page = context.new_page()
    sign_in(page, server, role)
    choose_language(page, language)
    waiting, seen, bad = [page.url.removeprefix(server.base)], set(), []
    while waiting:
        path = waiting.pop(0)
        if kind(path) in seen:
            continue
        seen.add(kind(path))
        try:
            answer = page.goto(server.base + path)
        except Error as error:
            assert "Download is starting" in error.message, error
            continue
        assert answer.status < 500, f"{role} {path}: {answer.status}"
        if answer.status != 200 or "html" not in answer.headers.get("content-type", ""):
            continue
        page.wait_for_load_state()
        no_text_is_missing(page)
        height, wide = measure(page)
        screens = height / PHONE["height"]
        if screens > SCREENS:
            bad.append(f"{role} {language} {path}: {screens:.1f} screens of a phone")
        if wide > 0:
            bad.append(f"{role} {language} {path}: {wide} px too wide")
        links = page.evaluate("[...document.querySelectorAll('a[href]')].map(a => a.getAttribute('href'))")
        for link in links:
            link = link.split("#")[0]
            if link.startswith("/") and not SKIPPED.search(link.split("?")[0]) and kind(link) not in seen:
                waiting.append(link)
    browser.close()
    print(f"{role} in {language}: {len(seen)} kinds of pages on a telephone")
    return bad


def many(playwright, binary, folder):
    server = Server(binary, folder, size="medium")
    farms = server.api("manager", "/v1/farms?limit=200")["items"]
    assert len(farms) >= FARMS, len(farms)
    bad = [line for language in ("en", "sw") for role in ROLES
           for line in walk(playwright, server, role, language)]
    server.stop()
    assert not bad, "\n".join(bad)


if __name__ == "__main__":
    with with_playwright() as started:
        many(started, *sys.argv[1:])

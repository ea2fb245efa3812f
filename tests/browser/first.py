"""A new co-operative, from the command line's first line to its first farm's plan, as its manager
does it in a browser: nothing is typed that the pages do not ask for.

    first.py BINARY FOLDER
"""

import base64
import hashlib
import hmac
import re
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

from common import PHONE, Server, choose_language, fits, launch, no_text_is_missing, with_playwright

PASSWORD = "a long night of rain"
FOUND = ["--name", "Umoja wa Mfano", "--currency", "TZS", "--zone", "Africa/Dar_es_Salaam",
         "--started-on", "2026-01-01", "--operator-email", "operator@umoja.example",
         "--manager-email", "manager@umoja.example"]


def step(page, done, all_steps):
    """Back on the first steps: so many are ticked."""
    page.goto(page.base + "/first")
    look(page)
    words = page.locator(".lead").inner_text()
    assert re.findall(r"\d+", words) == [str(done), str(all_steps)], words


def look(page):
    no_text_is_missing(page)
    fits(page)


def fill(page, form, fields):
    for name, value in fields.items():
        field = page.locator(f"#{form}-{name}")
        kind = field.evaluate("f => f.type || f.tagName")
        if kind == "checkbox":
            field.check()
        elif kind == "select-one":
            field.select_option(value)
        else:
            field.fill(value)
    page.click(f"#{form} button")
    page.wait_for_load_state()
    wrong = page.locator("#wrong")
    assert not wrong.count(), wrong.inner_text()
    assert page.locator(".notice, #plan, h1").count()
    look(page)


def choose_first(page, form, name):
    value = page.locator(f"#{form}-{name} option").nth(1).get_attribute("value")
    return {name: value}


def main(binary, folder):
    data = Path(folder)
    found = subprocess.run([binary, "--data", data, "found", *FOUND], capture_output=True, text=True, check=True)
    line = next(l for l in found.stdout.splitlines() if l.startswith("manager"))
    assert re.search(r"http://127\.0\.0\.1:8080/invitation\?code=\S+", line), found.stdout
    code = line.rsplit("code=", 1)[1]
    # A passkey is bound to a name, not to a number.
    server = Server(binary, data, command="serve", host="localhost")
    with with_playwright() as playwright:
        walk(playwright, server, code)
    server.end()


def walk(playwright, server, code):
    browser = launch(playwright)
    page = browser.new_context(viewport=PHONE).new_page()
    page.base = server.base
    page.goto(f"{server.base}/invitation?code={code}")
    for field in page.locator("input[type=password]").all():
        field.fill(PASSWORD)
    page.click("main button")
    page.wait_for_load_state()
    if "/sign-in" in page.url:
        page.fill("input[name=login]", "manager@umoja.example")
        page.fill("input[name=password]", PASSWORD)
        page.click("main button")
        page.wait_for_load_state()
    assert page.url.endswith("/first"), page.url
    choose_language(page, "en")
    step(page, 0, 9)
    page.goto(server.base + "/setup/areas")
    fill(page, "book", {"name": "Kijiji cha Mfano"})
    page.goto(server.base + "/setup/checklist-items")
    fill(page, "book", {"code": "water", "topic": "water", "question": "Is the water clean?",
                        "valid_from": "2026-01-01"})
    step(page, 2, 9)
    page.goto(server.base + "/guide")
    fill(page, "value", {"name": "seed_kg_per_tray", "value": "1.5", "valid_from": "2026-01-01"})
    for feed in ("Dairy meal", "Wheat bran"):
        page.goto(server.base + "/store/feeds")
        fill(page, "book", {"name": feed})
    page.goto(server.base + "/store/suppliers")
    fill(page, "book", {"name": "Ghala la Mfano"})
    page.goto(server.base + "/store/seed-lots")
    fill(page, "book", {"code": "L-1", "crop": "barley"})
    page.goto(server.base + "/store/seed-purchases")
    fill(page, "book", choose_first(page, "book", "seed_lot_id")
         | {"date": "2026-11-02", "kg": "1 000", "price": "1,250,000", "feed_grade": "x", "untreated": "x"})
    step(page, 7, 9)
    page.goto(server.base + "/people?role=officer#person")
    assert page.input_value("#person-role") == "officer"
    fill(page, "person", {"code": "afisa", "name": "Afisa Mfano", "phone": "0712 000 111"})
    page.goto(server.base + "/farms/new")
    fill(page, "farm", {"name": "Neema Mfano", "shed-tray_places": "6", "group-1-animal_class": "dairy_cows",
                        "group-1-head": "1"}
         | choose_first(page, "farm", "group-1-ration-1-feed_id") | {"group-1-ration-1-kg_per_animal_day": "4"})
    assert "/plan" in page.url, page.url
    step(page, 9, 9)
    page.goto(server.base + "/month")
    look(page)
    assert page.url.endswith("/month"), page.url
    passkeys(page, server)
    browser.close()


def code_of(secret):
    """The code of this moment (RFC 6238)."""
    step = int(time.time()) // 30
    mac = hmac.new(base64.b32decode(secret), step.to_bytes(8, "big"), hashlib.sha1).digest()
    at = mac[-1] & 15
    return f"{(int.from_bytes(mac[at:at + 4], 'big') & 0x7fffffff) % 1000000:06}"


def press(page, selector, path):
    page.click(selector)
    page.wait_for_url(lambda url: url.removeprefix(page.base).startswith(path))
    look(page)


def passkeys(page, server):
    """A passkey is added, used at signing in and before it is removed, with an authenticator that the
    browser plays (W3C Web Authentication, 11)."""
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    session.send("WebAuthn.addVirtualAuthenticator", {"options": {
        "protocol": "ctap2", "transport": "internal", "hasResidentKey": True,
        "hasUserVerification": True, "isUserVerified": True, "automaticPresenceSimulation": True}})
    page.goto(page.base + "/own")
    press(page, "#begin button", "/own/second")
    secret = re.search(r"\b[A-Z2-7]{32}\b", page.inner_text("main")).group()
    page.fill("#confirm-code", code_of(secret))
    press(page, "#confirm button", "/own/second/confirm")
    page.goto(page.base + "/own")
    page.fill("#passkey-name", "Simu ya Mfano")
    press(page, "#passkey button", "/own/passkeys")
    press(page, "#make button", "/own?saved")
    assert "Simu ya Mfano" in page.inner_text("main")
    press(page, "#sign-out button", "/sign-in")
    page.fill("#login", "manager@umoja.example")
    page.fill("#password", PASSWORD)
    press(page, "main form.page button", "/sign-in")
    press(page, "#by-passkey button", "/month")
    # Ten minutes later it is asked for once more.
    with sqlite3.connect(server.folder / "traybook.sqlite", timeout=10) as database:
        database.execute("UPDATE sign_ins SET proved_at = proved_at - 600000")
    page.goto(page.base + "/own")
    press(page, "form[action^='/own/passkeys/'] button", "/own/passkeys/")
    press(page, "#by-passkey button", "/proof")
    press(page, "#kept button", "/own?saved")
    assert "Simu ya Mfano" not in page.inner_text("main")


if __name__ == "__main__":
    main(*sys.argv[1:])

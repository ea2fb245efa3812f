"""A demo server and a real browser for the tests of the pages."""

import atexit
import json
import re
import shutil
import socket
import subprocess
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import sync_playwright

# Root can not run Chromium's sandbox; what would call its maker's hosts is switched off.
ARGS = [
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-quic",
]
PHONE = {"width": 360, "height": 740}
LAPTOP = {"width": 1280, "height": 800}


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Server:
    """The demo, or a database of its own, which can be stopped and started again on the same files
    and address."""

    def __init__(self, binary, folder, port=None, command="demo", host="127.0.0.1", size=None):
        self.size = size
        self.binary, self.folder, self.command, self.host = binary, Path(folder), command, host
        self.folder.mkdir(parents=True, exist_ok=True)
        self.port = port or free_port()
        self.base = f"http://{host}:{self.port}"
        self.process = None
        atexit.register(self.end)
        self.start()
        self.logins = self.read_logins() if command == "demo" else {}

    def start(self):
        out = open(self.folder / "demo.log", "a+")
        command = [self.binary, "--data", str(self.folder), self.command, "--listen", f"127.0.0.1:{self.port}"]
        if self.size:
            command += ["--size", self.size]
        if self.host != "127.0.0.1":
            command += ["--public-address", self.base]
        self.process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT)
        for _ in range(600):
            try:
                urllib.request.urlopen(f"{self.base}/health/ready", timeout=1).read()
                return
            except OSError:
                assert self.process.poll() is None, (self.folder / "demo.log").read_text()
                time.sleep(0.1)
        raise AssertionError("the demo does not answer")

    def stop(self, hard=False):
        (self.process.kill if hard else self.process.terminate)()
        self.process.wait(30)

    def end(self):
        """After a step that failed no server stays behind."""
        if self.process.poll() is None:
            self.stop(hard=True)

    def read_logins(self):
        logins = {}
        note = next(self.folder.glob("demo-*.json"))
        for one in json.loads(note.read_text())["logins"]:
            logins.setdefault(one["role"], (one["login"], one["password"]))
        return logins

    def end_sign_ins(self, role):
        """As after a lost telephone: the manager ends all sign-ins and makes a new code."""
        login = self.logins[role][0]
        people = self.api("manager", "/v1/people?limit=200")["items"]
        person = next(p for p in people if login in (p.get("email"), p.get("phone")))
        self.code = self.api("manager", f"/v1/people/{person['id']}/invitations", method="POST")["code"]
        self.send("/v1/session/invitation", {"code": self.code, "password": "lost and found words"})
        self.tokens.pop(role, None)

    def restore_login(self, role):
        """The person signs in with the new password from now on."""
        self.logins[role] = (self.logins[role][0], "lost and found words")

    def api(self, role, path, body=None, method=None):
        """Asks the interface as a role; the token is kept."""
        tokens = self.__dict__.setdefault("tokens", {})
        if role not in tokens:
            login, password = self.logins[role]
            answer = self.send("/v1/session", {"login": login, "password": password})
            tokens[role] = answer["access_token"]
        return self.send(path, body, tokens[role], method)

    def send(self, path, body=None, token=None, method=None):
        headers = {"content-type": "application/json"}
        if token:
            headers["authorization"] = f"Bearer {token}"
        data = None if body is None else json.dumps(body).encode()
        if method == "PATCH":
            headers["if-match"] = body.pop("if_match")
            data = json.dumps(body).encode()
        request = urllib.request.Request(self.base + path, data, headers, method=method)
        with urllib.request.urlopen(request) as answer:
            text = answer.read()
            return json.loads(text) if text else None


def launch(playwright, folder=None, **options):
    """A browser; with a folder one that finds its storage again after it was closed."""
    chromium = playwright.chromium
    path = shutil.which("chromium") or "/usr/bin/chromium"
    if folder:
        return chromium.launch_persistent_context(
            str(folder), executable_path=path, args=ARGS, viewport=PHONE, **options)
    return chromium.launch(executable_path=path, args=ARGS, **options)


def sign_in(page, server, role):
    login, password = server.logins[role]
    page.goto(server.base + "/sign-in")
    page.fill("#login", login)
    page.fill("#password", password)
    page.click("main button")
    page.wait_for_load_state()
    assert "/sign-in" not in page.url, page.inner_text("main")


def choose_language(page, language):
    if page.get_attribute("html", "lang") != language:
        page.click(f"header button[lang={language}]")
        page.wait_for_load_state()
    assert page.get_attribute("html", "lang") == language


def no_text_is_missing(page):
    missing = re.findall(r"\[[a-z][\w-]+\]", page.content())
    assert not missing, f"{page.url}: texts are missing: {missing}"


def fits(page):
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0, f"{page.url} scrolls sideways by {wide} px"


def with_playwright():
    return sync_playwright()

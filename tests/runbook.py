"""Drills of the runbook (server/cli/SERVE.md, "When something is wrong") that need a whole program.

Usage: runbook.py BINARY FOLDER

Each case is brought about, then mended as the runbook says. The others are tried by the tests that
the runbook names.
"""

import atexit
import json
import os
import re
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

binary, folder = (Path(given).resolve() for given in sys.argv[1:3])
PASSWORD, OTHER = "kettle of many rivers", "copper morning basket"


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Place:
    """A folder with a co-operative, and a server on it."""

    def __init__(self, name, at=None):
        self.at = at or folder / name
        self.at.mkdir(parents=True, exist_ok=True)
        self.port, self.process = free_port(), None
        atexit.register(self.end)
        said = self.run("found", "--name", "Mfano", "--currency", "TZS", "--zone", "Africa/Dar_es_Salaam",
                        "--started-on", "2026-01-01", "--operator-email", "o@coop.example",
                        "--manager-email", "m@coop.example").stdout
        self.start()
        for code in re.findall(r"code=([\w-]+)", said):
            self.ask("POST", "/v1/session/invitation", {"code": code, "password": PASSWORD})
        self.operator = self.sign_in("o@coop.example")
        self.manager = self.sign_in("m@coop.example")

    def run(self, *args, ends=0):
        done = subprocess.run([binary, "--data", "data", *args], cwd=self.at, capture_output=True, text=True)
        assert done.returncode == ends, (args, done.returncode, done.stdout, done.stderr)
        return done

    def start(self, *more):
        log = open(folder / "serve.log", "a")
        self.process = subprocess.Popen([binary, "--data", "data", "serve", "--listen", f"127.0.0.1:{self.port}", *more],
                                        cwd=self.at, stdout=log, stderr=log)
        for _ in range(300):
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return
            except OSError:
                assert self.process.poll() is None, (folder / "serve.log").read_text()
                time.sleep(0.1)
        raise AssertionError("the server does not listen")

    def stop(self):
        if self.process and self.process.poll() is None:
            self.process.terminate()
            assert self.process.wait(30) == 0

    def end(self):
        """After a drill that failed no server stays behind."""
        if self.process and self.process.poll() is None:
            self.process.kill()
            self.process.wait(30)

    def ask(self, method, path, body=None, token=None):
        """Status, headers and what was answered."""
        headers = {"content-type": "application/json"} | ({"authorization": f"Bearer {token}"} if token else {})
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data, headers, method=method)
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:
                text = answer.read()
                return answer.status, answer.headers, json.loads(text) if text.startswith((b"{", b"[")) else text.decode()
        except urllib.error.HTTPError as error:
            return error.code, error.headers, json.loads(error.read())

    def session(self, login, password=PASSWORD):
        return self.ask("POST", "/v1/session", {"login": login, "password": password})

    def sign_in(self, login, password=PASSWORD):
        status, _, answer = self.session(login, password)
        assert status == 201, answer
        return answer["access_token"]

    def areas(self):
        names, path = [], "/v1/areas?limit=200"
        while path:
            _, _, answer = self.ask("GET", path, token=self.manager)
            names += [area["name"] for area in answer["items"]]
            path = answer.get("next")
        return set(names)


def the_disk_is_full():
    """Writes are refused with words and nothing that was answered is lost; with room they go on."""
    if os.geteuid() != 0:
        print("- the disk is full: not tried, a disk of its own can be mounted by root alone")
        return
    disk = folder / "disk"
    disk.mkdir(parents=True, exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=48m", "none", disk], check=True)
    # A drill that failed leaves the disk to be looked at no longer than the run.
    atexit.register(subprocess.run, ["umount", "--lazy", disk], capture_output=True)
    place = Place("disk", disk)
    try:
        ballast = disk / "ballast"
        with open(ballast, "wb", buffering=0) as file:
            try:
                while file.write(b"\0" * 4096):
                    pass
            except OSError:
                pass
        os.truncate(ballast, max(0, ballast.stat().st_size - 400_000))
        kept, refused = set(), None
        for number in range(2000):
            name = f"Area {number}"
            status, headers, answer = place.ask("POST", "/v1/areas", {"name": name}, place.manager)
            if status != 201:
                refused = (status, headers["retry-after"], answer)
                break
            kept.add(name)
        assert refused and kept, (len(kept), refused)
        assert refused[0] == 503 and refused[1] and refused[2]["code"] == "unavailable", refused
        assert place.areas() == kept, ("reading goes on", kept ^ place.areas())
        ballast.unlink()
        for _ in range(100):
            status, _, answer = place.ask("POST", "/v1/areas", {"name": "With room"}, place.manager)
            if status == 201:
                break
            time.sleep(0.2)
        assert status == 201, answer
        kept.add("With room")
        place.stop()
        place.start()
        assert place.areas() == kept
        place.stop()
        assert "agree with the records" in place.run("check").stdout
    finally:
        place.stop()
    subprocess.run(["umount", disk], check=True)
    print(f"- the disk is full: {len(kept)} writes that were answered are there, it goes on with room")


def the_keys_are_lost():
    """New keys are made; who is signed in exchanges the refresh token, others sign in as ever."""
    place = Place("keys")
    try:
        _, _, answer = place.session("m@coop.example")
        place.stop()
        (place.at / "data/keys.json").unlink()
        place.start()
        assert place.ask("GET", "/v1/areas", token=answer["access_token"])[0] == 401
        status, _, again = place.ask("POST", "/v1/session/refresh", {"refresh_token": answer["refresh_token"]})
        assert status in (200, 201), again
        assert place.ask("GET", "/v1/areas", token=again["access_token"])[0] == 200
        place.sign_in("o@coop.example")
        assert (place.at / "data/keys.json").stat().st_mode & 0o077 == 0
    finally:
        place.stop()
    print("- keys.json is lost: new keys are made, devices and people go on")


def an_operator_forgot_the_password():
    """Another operator makes a code; a manager can not."""
    place = Place("forgot")
    try:
        second = {"code": "OP2", "active": True, "name": "Second operator",
                  "role": "operator", "email": "o2@coop.example", "language": "en"}
        status, _, person = place.ask("POST", "/v1/people", second, place.operator)
        assert status == 201, person
        code = place.ask("POST", f"/v1/people/{person['id']}/invitations", token=place.operator)[2]["code"]
        assert place.ask("POST", "/v1/session/invitation", {"code": code, "password": OTHER})[0] in (200, 201, 204)
        people = place.ask("GET", "/v1/people?limit=200", token=place.operator)[2]["items"]
        first = next(p["id"] for p in people if p.get("email") == "o@coop.example")
        refused = place.ask("POST", f"/v1/people/{first}/invitations", token=place.manager)
        assert refused[0] == 403, refused
        by = place.sign_in("o2@coop.example", OTHER)
        status, _, made = place.ask("POST", f"/v1/people/{first}/invitations", token=by)
        assert status == 201, made
        new = "lantern over the ford"
        assert place.ask("POST", "/v1/session/invitation", {"code": made["code"], "password": new})[0] in (200, 201, 204)
        place.sign_in("o@coop.example", new)
        assert place.session("o@coop.example")[0] == 401, "the old password is over"
    finally:
        place.stop()
    print("- an operator forgot the password: another operator makes a code, a manager can not")


def sums_and_records_differ():
    """`check` says what differed and builds the sums anew; the next one finds nothing."""
    place = Place("sums")
    try:
        place.stop()
        (place.at / "areas.csv").write_text("name\nNorth\n")
        place.run("import", "areas.csv")
        demo = subprocess.run([binary, "--data", "demo", "demo", "--no-serve", "--seed", "7"], cwd=place.at,
                              capture_output=True, text=True)
        assert demo.returncode == 0, demo.stderr
        url = ("--database-url", "sqlite:demo/demo-small-7.sqlite")
        assert "agree with the records" in place.run(*url, "check").stdout
        with sqlite3.connect(place.at / "demo/demo-small-7.sqlite") as database:
            changed = database.execute("UPDATE farm_months SET milk_ml = milk_ml + 1 WHERE milk_ml > 0").rowcount
        database.close()
        assert changed > 0
        found = place.run(*url, "check", ends=1).stdout
        assert "the sums did not agree; they have been built anew" in found and "\nrebuilt " in found, found
        assert "agree with the records" in place.run(*url, "check").stdout
    finally:
        place.stop()
    print("- sums and records differ: said, built anew, in order")


def a_server_is_taken_out():
    """Asked to stop it says that it is not ready, goes on for a while, then ends; a reader takes no change."""
    place = Place("out")
    try:
        place.stop()
        place.start("--drain", "20")
        assert place.ask("GET", "/health/ready")[0] == 200
        asked = time.monotonic()
        place.process.terminate()
        while place.ask("GET", "/health/ready")[0] == 200:
            assert time.monotonic() - asked < 10, "it says that it ends"
            time.sleep(0.05)
        # What a proxy still sends is taken.
        status, _, made = place.ask("POST", "/v1/areas", {"name": "North"}, place.manager)
        assert status == 201, made
        assert place.process.poll() is None
        place.process.terminate()
        assert place.process.wait(30) == 0, "asked again it does not wait"
        assert time.monotonic() - asked < 20
        place.start("--read-only")
        assert place.areas() == {"North"}
        status, _, answer = place.ask("POST", "/v1/areas", {"name": "South"}, place.manager)
        assert (status, answer["code"]) == (503, "reads_only"), answer
        refused = place.run("serve", "--read-only", "--backup", "copies", ends=2)
        assert "--backup" in refused.stderr, refused.stderr
    finally:
        place.stop()
    print("- a server is taken out: not ready, goes on, ends; one that only reads takes no change")


folder.mkdir(parents=True, exist_ok=True)
the_disk_is_full()
the_keys_are_lost()
an_operator_forgot_the_password()
sums_and_records_differ()
a_server_is_taken_out()
print("the drills of the runbook passed")

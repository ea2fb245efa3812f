"""The door of text messages, met by others: requests are signed and checked by the package
`standardwebhooks` (the reference implementation of the Standard Webhooks specification for Python),
the bridge speaks TLS to the server, and an aggregator calls its menus in both styles.

usage: signatures.py BINARY FOLDER
"""

import datetime
import http.server
import json
import os
import pathlib
import ssl
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid

from processes import STARTED, free_port, listens, rows, start, stop
from standardwebhooks import Webhook, WebhookVerificationError

NUMBER = "+255700000101"
KEY = "a key that the aggregator has"
BINARY, FOLDER = (pathlib.Path(given).resolve() for given in sys.argv[1:3])


def run(*command, env=None):
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, timeout=600,
                          env={**os.environ, **(env or {})})
    return done.returncode, done.stdout + done.stderr


def must(*command, env=None):
    code, said = run(*command, env=env)
    assert code == 0, f"{command}: {said}"
    return said


def openssl(*args):
    subprocess.run(["openssl", *map(str, args)], check=True, capture_output=True, cwd=FOLDER)


def certificate():
    """An authority and a certificate for localhost, for this run alone."""
    openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2",
            "-subj", "/CN=authority", "-keyout", "ca.key", "-out", "ca.pem")
    openssl("req", "-new", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
            "-subj", "/CN=localhost", "-keyout", "server.key", "-out", "server.csr")
    (FOLDER / "names").write_text("subjectAltName=DNS:localhost\n")
    openssl("x509", "-req", "-in", "server.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial",
            "-days", "2", "-extfile", "names", "-out", "server.pem")


def ours_is_theirs(secret):
    """What the bridge signs, the other implementation accepts; changed by a byte, it does not."""
    seen = []

    class Server(http.server.BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["content-length"]))
            seen.append((self.path, body, dict(self.headers.items())))
            answer = b'{"items": [], "lease_s": 120, "settled": 0, "outcome": "record", "is_new": true}'
            self.send_response(200)
            self.send_header("content-length", str(len(answer)))
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Server)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    folder = FOLDER / "modem"
    for name in ("inbox", "outbox", "sent", "error"):
        (folder / name).mkdir(parents=True)
    (folder / "inbox" / f"IN20261129_010500_00_{NUMBER}_00.txt").write_text("Maziwa 12½ – mchana")
    must(BINARY, "carry", "--once", "--gammu", folder, "--server", f"http://127.0.0.1:{server.server_port}",
         env={"TRAYBOOK_CARRIER_SECRET": secret})
    server.shutdown()
    paths = [path for path, _, _ in seen]
    assert "/v1/texts/in" in paths and "/v1/texts/lease" in paths, paths
    webhook = Webhook(secret)
    for _, body, headers in seen:
        assert webhook.verify(body.decode(), headers) == json.loads(body)
        for wrong in (body[:-1] + b" }", body.replace(b":", b": ", 1)):
            try:
                webhook.verify(wrong.decode(), headers)
            except WebhookVerificationError:
                continue
            raise AssertionError("a changed body was accepted")
    print(f"{len(seen)} requests of the bridge were signed as standardwebhooks has it")


def call(url, body=None, headers=None, context=None):
    request = urllib.request.Request(url, data=body, headers=headers or {})
    try:
        with urllib.request.urlopen(request, timeout=30, context=context) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


def theirs_is_ours(secret, server, context):
    """What the other implementation signs, the server accepts; changed, late or unsigned, it does not."""
    webhook = Webhook(secret)

    def send(body, sign_of=None, at=None, key=webhook):
        at = at or datetime.datetime.now(tz=datetime.timezone.utc)
        signature = key.sign("msg_1", at, sign_of or body)
        headers = {"content-type": "application/json", "webhook-id": "msg_1",
                   "webhook-timestamp": str(int(at.timestamp())), "webhook-signature": signature}
        return call(f"{server}/v1/texts/in", body.encode(), headers, context)

    body = json.dumps({"id": "1", "from": NUMBER, "text": "Msaada"})
    status, said = send(body)
    assert status == 200 and json.loads(said)["outcome"] == "answer", (status, said)
    late = datetime.datetime.now(tz=datetime.timezone.utc) - datetime.timedelta(minutes=6)
    other = Webhook("whsec_" + "A" * 40 + "AA==")
    for wrong in (send(body, sign_of=body + " "), send(body, at=late), send(body, key=other)):
        assert wrong[0] == 401, wrong
    assert call(f"{server}/v1/texts/in", body.encode(), {"content-type": "application/json"}, context)[0] == 401
    print("a request that standardwebhooks signed was taken; four others were not")


def menus(secret, server, database):
    """An aggregator that sends all inputs joined and wants CON and END, and one that sends the last
    input alone and wants JSON; both over TLS behind the bridge."""
    made = "SELECT COUNT(*) FROM text_records"
    for joined in (True, False):
        port = free_port()
        options = ["--menu-joined", "--menu-names", "sid,who,typed"] if joined else ["--menu-json"]
        bridge = start(FOLDER, BINARY, "carry", "--server", server, "--authorities", FOLDER / "ca.pem",
                       "--menu", f"127.0.0.1:{port}", *options,
                       env={**os.environ, "TRAYBOOK_CARRIER_SECRET": secret, "TRAYBOOK_MENU_KEY": KEY})
        listens(port)
        names = ("sid", "who", "typed") if joined else ("session", "from", "input")
        session, typed = f"session {joined}", []

        def step(key=None, key_of_call=KEY):
            if key is not None:
                typed.append(key)
            said = "*".join(typed) if joined else (typed[-1] if typed else "")
            form = urllib.parse.urlencode(dict(zip(names, (session, NUMBER, said)), key=key_of_call))
            status, text = call(f"http://127.0.0.1:{port}/", form.encode())
            if status != 200:
                return status, None
            if not joined:
                answer = json.loads(text)
                return answer["text"], answer["ends"]
            assert text[:4] in ("CON ", "END "), text
            return text[4:], text.startswith("END ")

        before = rows(database, made)[0][0]
        assert step(key_of_call="another key of the world") == (401, None)
        text, ends = step()
        assert text.startswith("1 Maziwa") and not ends, text
        text, ends = step("1")
        while not ends and "1 Ndiyo" not in text:
            # Which farm, how many litres: whatever is asked.
            text, ends = step(("11" if joined else "12") if "ngapi" in text else "1")
        assert not ends and "1 Ndiyo" in text, text
        assert rows(database, made)[0][0] == before, "nothing is written before the yes"
        time.sleep(2.1)
        text, ends = step("1")
        while not ends:
            time.sleep(2.1)
            text, ends = step("1")
        assert text.startswith("Imeandikwa"), text
        again, _ = step()
        assert again == text and rows(database, made)[0][0] == before + 1, again
        print("menu,", "all inputs joined:" if joined else "the last input alone:", text)
        stop(bridge)


def main():
    FOLDER.mkdir(parents=True, exist_ok=True)
    port = free_port()
    server = f"https://localhost:{port}"
    try:
        certificate()
        must(BINARY, "--data", FOLDER, "demo", "--no-serve", "--months", "8")
        database = next(FOLDER.glob("demo-*.sqlite"))
        coop = uuid.UUID(bytes=rows(database, "SELECT id FROM cooperatives")[0][0])
        secret = must(BINARY, "carry", "--new-secret").strip()
        ours_is_theirs(secret)
        carrier = {"name": "test", "secret": secret, "calling_code": "255", "trunk": "0",
                   "cooperatives": [{"id": str(coop)}]}
        (FOLDER / "carriers.json").write_text(json.dumps([carrier]))
        start(FOLDER, BINARY, "--data", FOLDER, "--database-url", f"sqlite:{database}", "serve",
              "--listen", f"127.0.0.1:{port}", "--tls-certificate", FOLDER / "server.pem",
              "--tls-key", FOLDER / "server.key")
        listens(port)
        context = ssl.create_default_context(cafile=FOLDER / "ca.pem")
        theirs_is_ours(secret, server, context)
        # The bridge over TLS: an authority that is not trusted is said, and nothing is handed over.
        folder = FOLDER / "modem"
        came = folder / "inbox" / f"IN20261129_010600_00_{NUMBER}_00.txt"
        came.write_text("Kazi")
        bridge = (BINARY, "carry", "--once", "--gammu", folder, "--server", server)
        env = {"TRAYBOOK_CARRIER_SECRET": secret}
        code, said = run(*bridge, env=env)
        assert code != 0 and came.exists(), said
        must(*bridge, "--authorities", FOLDER / "ca.pem", env=env)
        assert not came.exists() and list((folder / "outbox").iterdir()), "taken, and answered"
        print("the bridge spoke TLS")
        menus(secret, server, database)
    finally:
        for process in reversed(STARTED):
            stop(process)


main()

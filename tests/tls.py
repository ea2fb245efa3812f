"""A server that speaks TLS itself, met by other programs: Python's ssl (OpenSSL) and curl.

Usage: tls.py BINARY FOLDER

The certificates are made here by the command `openssl`, for this run alone.
"""

import http.cookiejar
import json
import re
import socket
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
import warnings
from pathlib import Path

binary, folder = (Path(given).resolve() for given in sys.argv[1:3])
folder.mkdir(parents=True, exist_ok=True)
PASSWORD = "kettle of many rivers"


def openssl(*args):
    subprocess.run(["openssl", *map(str, args)], check=True, capture_output=True, cwd=folder)


def authority(name):
    openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2",
            "-subj", f"/CN={name}", "-keyout", f"{name}.key", "-out", f"{name}.pem")


def certificate(name, by, kind=("ec", "-pkeyopt", "ec_paramgen_curve:P-256"), days=2):
    """A certificate for 127.0.0.1 and localhost, made by an authority."""
    openssl("req", "-new", "-newkey", *kind, "-nodes", "-subj", f"/CN={name}",
            "-keyout", f"{name}.key", "-out", f"{name}.csr")
    (folder / "names").write_text("subjectAltName=IP:127.0.0.1,DNS:localhost\n")
    openssl("x509", "-req", "-in", f"{name}.csr", "-CA", f"{by}.pem", "-CAkey", f"{by}.key",
            "-CAcreateserial", "-days", str(days), "-extfile", "names", "-out", f"{name}.pem")


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def put(name):
    """What renews certificates does: the files get other contents."""
    for end in ("pem", "key"):
        (folder / f"shown.{end}").write_bytes((folder / f"{name}.{end}").read_bytes())


def client(by="ca", lowest=None, highest=None):
    context = ssl.create_default_context(cafile=folder / f"{by}.pem")
    if highest:
        context.minimum_version, context.maximum_version = lowest, highest
    return context


def shown_by(port, context):
    """The certificate that the server shows, and the version that was agreed on."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as plain:
        with context.wrap_socket(plain, server_hostname="localhost") as tls:
            return dict(x[0] for x in tls.getpeercert()["subject"])["commonName"], tls.version()


def refusal(port, context):
    """Why no connection came about."""
    try:
        return shown_by(port, context)
    except ssl.SSLError as error:
        return error.reason


def run(*args):
    return subprocess.run([binary, "--data", "data", *args], cwd=folder, capture_output=True, text=True)


SHOWN = ("--tls-certificate", "shown.pem", "--tls-key", "shown.key")


def refused_at_the_start():
    """What can not be shown is said with the file's name, and nothing of the key."""
    (folder / "empty").write_text("")
    # The marks of a key, made up of parts so that nobody takes this line for one.
    marks = ["-----BEGIN " + "PRIVATE KEY-----", "SECRETSECRET", "-----END " + "PRIVATE KEY-----", ""]
    (folder / "broken").write_text("\n".join(marks))
    for pair, said in [
        (("gone.pem", "one.key"), "--tls-certificate gone.pem: No such file"),
        (("one.pem", "gone.key"), "--tls-key gone.key: No such file"),
        (("empty", "one.key"), "there is no certificate in it; give PEM"),
        (("one.pem", "empty"), "there is no key in it; give PEM, without a password"),
        (("one.pem", "two.key"), "it is not the key of one.pem"),
        (("one.pem", "broken"), "--tls-key broken: "),
    ]:
        done = run("serve", "--listen", f"127.0.0.1:{free_port()}",
                   "--tls-certificate", pair[0], "--tls-key", pair[1])
        assert done.returncode == 2 and said in done.stderr, (pair, done.returncode, done.stderr)
        assert "SECRET" not in done.stderr + done.stdout, done.stderr
    alone = run("serve", "--tls-certificate", "one.pem")
    assert alone.returncode == 2 and "--tls-key" in alone.stderr, alone.stderr


def pages(base):
    """Signs in on the pages, as a browser does: the cookies go by TLS alone."""
    code = re.search(r"operator.*?code=([\w-]+)", founded, re.S | re.I).group(1)
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(
        urllib.request.HTTPSHandler(context=client()), urllib.request.HTTPCookieProcessor(jar))
    body = json.dumps({"code": code, "password": PASSWORD}).encode()
    opener.open(urllib.request.Request(f"{base}/v1/session/invitation", body, {"content-type": "application/json"}))
    form = urllib.parse.urlencode({"login": "o@coop.example", "password": PASSWORD}).encode()
    answer = opener.open(urllib.request.Request(f"{base}/sign-in", form, {"origin": base}))
    assert answer.status == 200 and "/sign-in" not in answer.url, answer.url
    names = {c.name: c for c in jar}
    assert "__Host-traybook" in names and all(c.secure for c in jar), list(jar)
    assert answer.headers["strict-transport-security"] == "max-age=31536000", answer.headers
    page = opener.open(f"{base}/people")
    assert page.status == 200 and "o@coop.example" in page.read().decode()
    # What leads to this server leads there by TLS.
    person = re.search(r"/people/[0-9a-f-]{36}", opener.open(f"{base}/people").read().decode()).group(0)
    assert opener.open(base + person).status == 200


def serve(*options):
    port = free_port()
    log = open(folder / "serve.log", "a+")
    process = subprocess.Popen([binary, "--data", "data", "serve", "--listen", f"127.0.0.1:{port}", *options],
                               cwd=folder, stdout=log, stderr=log)
    for _ in range(300):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
            return process, port
        except OSError:
            assert process.poll() is None, (folder / "serve.log").read_text()
            time.sleep(0.1)
    raise AssertionError("the server does not listen")


def until(what, seconds=90):
    for _ in range(seconds * 4):
        if what():
            return
        time.sleep(0.25)
    raise AssertionError((folder / "serve.log").read_text())


authority("ca")
authority("other")
certificate("one", "ca")
certificate("two", "ca", ("rsa:2048",), days=3)
refused_at_the_start()
done = run("found", "--name", "Mfano", "--currency", "TZS", "--zone", "Africa/Dar_es_Salaam", "--started-on",
           "2026-01-01", "--operator-email", "o@coop.example", "--manager-email", "m@coop.example")
assert done.returncode == 0, done.stderr
founded = done.stdout
put("one")
process, port = serve(*SHOWN)
try:
    base = f"https://127.0.0.1:{port}"
    V = ssl.TLSVersion
    assert shown_by(port, client()) == ("one", "TLSv1.3")
    assert shown_by(port, client(lowest=V.TLSv1_2, highest=V.TLSv1_2)) == ("one", "TLSv1.2")
    # RFC 8996: TLS 1.0 and 1.1 must not be used. Python warns of asking for them.
    warnings.simplefilter("ignore", DeprecationWarning)
    old = client(lowest=V.TLSv1, highest=V.TLSv1_1)
    old.set_ciphers("ALL:@SECLEVEL=0")
    said = refusal(port, old)
    assert "ALERT" in said, f"the server refuses it, not this client: {said}"
    assert refusal(port, client("other")) == "CERTIFICATE_VERIFY_FAILED", "a client that trusts another authority"
    pages(base)
    curl = ["curl", "-fsS", "--cacert", str(folder / "ca.pem")]
    assert subprocess.run([*curl, f"{base}/health/live"], capture_output=True).stdout == b"alive\n"
    # Who speaks without TLS gets no answer from the interface.
    plain = subprocess.run(["curl", "-sS", f"http://127.0.0.1:{port}/health/live"], capture_output=True)
    assert plain.returncode != 0 and b"alive" not in plain.stdout, plain

    # When it ends is what openssl says; it is near, so the operator's page says so.
    token = json.load(urllib.request.urlopen(urllib.request.Request(
        f"{base}/v1/session", json.dumps({"login": "o@coop.example", "password": PASSWORD}).encode(),
        {"content-type": "application/json"}), context=client()))["access_token"]

    def certificate_until():
        request = urllib.request.Request(f"{base}/v1/server", headers={"authorization": f"Bearer {token}"})
        state = json.load(urllib.request.urlopen(request, context=client()))
        assert "certificate_ends" in state["worries"], state
        return state["certificate_until"]

    def end_of(name):
        said = subprocess.run(["openssl", "x509", "-noout", "-enddate", "-dateopt", "iso_8601", "-in", f"{name}.pem"],
                              cwd=folder, check=True, capture_output=True, text=True).stdout
        return said.strip().removeprefix("notAfter=").replace(" ", "T").replace("Z", ".000Z")

    assert certificate_until() == end_of("one")

    # A new certificate is shown without a restart, one of another kind of key.
    put("two")
    until(lambda: shown_by(port, client())[0] == "two")
    assert certificate_until() == end_of("two") != end_of("one")
    # One that is half written leaves the old one in use.
    (folder / "shown.pem").write_bytes((folder / "one.pem").read_bytes()[:200])
    until(lambda: "the old certificate stays in use" in (folder / "serve.log").read_text())
    assert shown_by(port, client())[0] == "two"
    put("one")
    until(lambda: shown_by(port, client())[0] == "one")

    # Connections of one address are counted by TLS too: the 257th is closed at once.
    many, closed = [], 0
    for _ in range(270):
        tls = client().wrap_socket(socket.create_connection(("127.0.0.1", port)), server_hostname="localhost")
        tls.settimeout(0.5)
        many.append(tls)
    for tls in many[-10:]:
        try:
            closed += tls.recv(1) == b""
        except TimeoutError:
            pass
        except OSError:
            closed += 1
    assert closed == 10, closed
    for tls in many:
        tls.close()
    until(lambda: subprocess.run([*curl, f"{base}/health/live"], capture_output=True).returncode == 0)
    assert "PRIVATE" not in (folder / "serve.log").read_text()
finally:
    process.terminate()
    status = process.wait(30)
assert status == 0, status

# Without TLS nothing asks browsers for it (RFC 6797, 7.2), except where a proxy or an address says so.
for options, asked in [((), False), (("--public-address", "https://records.example.org"), True),
                       (("--public-address", "http://records.example.org"), False), (("--behind-proxy",), True)]:
    process, port = serve(*options)
    try:
        answer = urllib.request.urlopen(f"http://127.0.0.1:{port}/health/live")
        assert ("strict-transport-security" in answer.headers) == asked, options
    finally:
        process.terminate()
        process.wait(30)
print("TLS: spoken with ssl and curl; renewed; refused where it must be")

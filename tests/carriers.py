"""A text all the way in and its answer all the way out: with gammu-smsd and its dummy telephone, and
with kannel and its fake SMSC. Both are Debian's own packages (apt install gammu gammu-smsd kannel
kannel-extras); what they write and read is theirs, not ours.

usage: carriers.py BINARY FOLDER
"""

import json
import pathlib
import subprocess
import sys
import uuid

from processes import STARTED, free_port, listens, rows, start, stop, until

NUMBER = "+255700000101"
BINARY, FOLDER = (pathlib.Path(given).resolve() for given in sys.argv[1:3])


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True, timeout=600)
    if done.returncode:
        raise SystemExit(f"carriers.py: {' '.join(map(str, command))}: {done.stdout}{done.stderr}")
    return done.stdout


def answered(database, text):
    """The answer to a text, once the carrier has said that it was sent."""
    found = []

    def is_sent():
        sql = """SELECT o.body FROM texts_in i JOIN texts_out o ON o.coop_id = i.coop_id
                 AND o.dedup_key = 'answer.' || lower(hex(i.id))
                 WHERE i.body = ? AND o.state = 'sent'"""
        found[:] = rows(database, sql, text)
        return bool(found)

    until(is_sent, f"no answer to {text!r} was sent: {rows(database, 'SELECT body, outcome FROM texts_in')}"
          f" {rows(database, 'SELECT body, state FROM texts_out')}")
    return found[0][0]


def modem(database, server):
    """gammu-smsd with the dummy telephone; the bridge runs inside the server."""
    folder = FOLDER / "modem"
    for name in ("inbox", "outbox", "sent", "error"):
        (folder / name).mkdir(parents=True)
    device = FOLDER / "dummy"
    device.mkdir()
    gammu = FOLDER / "gammurc"
    head = f"[gammu]\nconnection = none\nmodel = dummy\ndevice = {device}\n"
    gammu.write_text(head)
    ready = pathlib.Path(__file__).parent.parent / "server/cli/carriers/gammu-smsdrc"
    smsd = FOLDER / "smsdrc"
    # The configuration that we hand out, with other folders and the dummy telephone.
    own = ready.read_text().split("[smsd]")[1].replace("/var/spool/traybook", str(folder))
    smsd.write_text(head + "\n[smsd]" + own.replace("/var/log", str(FOLDER)) + "loopsleep = 1\n")
    start(FOLDER, "gammu-smsd", "-c", str(smsd))
    start(FOLDER, BINARY, "--data", str(FOLDER), "carry", "--gammu", str(folder), "--server", server)
    text = "Msaada modem"
    run("gammu", "-c", str(gammu), "savesms", "TEXT", "-folder", "1", "-unread", "-sender", NUMBER,
        "-text", text)
    answer = answered(database, text)
    assert answer.startswith("Andika:"), answer
    until(lambda: not list((folder / "inbox").iterdir()), "a text stays in the inbox")
    until(lambda: not list((folder / "sent").iterdir()), "a text stays in the sent folder")
    print("gammu-smsd:", answer)


def kannel(database, server):
    """kannel with its fake SMSC; what the SMSC gets is what a member would read."""
    smsc, admin, box, send, receive = (free_port() for _ in range(5))
    ready = pathlib.Path(__file__).parent.parent / "server/cli/carriers/kannel.conf"
    groups = ready.read_text().split("\n\n")
    fake = f"group = smsc\nsmsc = fake\nsmsc-id = network\nport = {smsc}\nconnect-allow-ip = 127.0.0.1"
    groups = [g for g in groups if "smsc = smpp" not in g]
    conf = "\n\n".join([groups[0], fake, *groups[1:]]) + "\n"
    spool = FOLDER / "kannel"
    spool.mkdir()
    for old, new in (("13000", admin), ("13001", box), ("13013", send), ("8090", receive),
                     ("/var/spool/kannel", spool), ("CHANGE_ME_TOO", "two"), ("CHANGE_ME", "one")):
        conf = conf.replace(str(old), str(new))
    path = FOLDER / "kannel.conf"
    path.write_text(conf)
    start(FOLDER, "bearerbox", "-v", "2", str(path))
    listens(smsc)
    listens(box)
    start(FOLDER, "smsbox", "-v", "2", str(path))
    listens(send)
    came = FOLDER / "came"
    url = (f"http://127.0.0.1:{send}/cgi-bin/sendsms?username=traybook&password=two"
           "&to={to}&text={text}")
    start(FOLDER, BINARY, "--data", str(FOLDER), "carry", "--server", server, "--receive",
          f"127.0.0.1:{receive}", "--spool", str(came), "--send-url", url)
    listens(receive)
    # The fake SMSC sends one text and prints what it gets.
    text = "Msaada kannel"
    log = FOLDER / "smsc.txt"
    with open(log, "wb") as out:
        fake = subprocess.Popen(
            ["/usr/lib/kannel/test/fakesmsc", "-H", "127.0.0.1", "-r", str(smsc), "-m", "1", "-v", "0",
             f"{NUMBER} 15500 text {text}"],
            stdout=out, stderr=out, start_new_session=True)
    STARTED.append(fake)
    answer = answered(database, text)
    assert answer.startswith("Andika:"), answer
    # On the fake SMSC's line spaces of a text are plus signs.
    word = answer.split()[0]
    until(lambda: word in log.read_text(errors="replace"), "the SMSC did not get the answer")
    until(lambda: not list(came.glob("*.json")), "a text stays in the spool")
    print("kannel:", answer)


def main():
    FOLDER.mkdir(parents=True, exist_ok=True)
    port = free_port()
    server = f"http://127.0.0.1:{port}"
    try:
        run(BINARY, "--data", FOLDER, "demo", "--no-serve", "--months", "8")
        database = next(FOLDER.glob("demo-*.sqlite"))
        coop = uuid.UUID(bytes=rows(database, "SELECT id FROM cooperatives")[0][0])
        secret = run(BINARY, "carry", "--new-secret").strip()
        carrier = {"name": "test", "secret": secret, "calling_code": "255", "trunk": "0",
                   "cooperatives": [{"id": str(coop)}]}
        (FOLDER / "carriers.json").write_text(json.dumps([carrier]))
        start(FOLDER, BINARY, "--data", str(FOLDER), "--database-url", f"sqlite:{database}", "serve",
              "--listen", f"127.0.0.1:{port}")
        listens(port)
        modem(database, server)
        kannel(database, server)
    finally:
        for process in reversed(STARTED):
            stop(process)


main()

"""A day of a nation in small: what a thousand farms cost a server and its database, and what more
farms need by that.

Usage: day.py BASE_URL SERVER_PID POSTMASTER_PID POSTGRES_URL DEMO_LOG

The day is made first, second by second, from a fixed seed: milkings in the morning and the evening,
work in the sheds, telephones without signal that come back at noon and in the evening, officers on
their rounds, a manager's reports. Then its requests are sent as fast as eight connections go, kind
by kind, and processor time, statements and bytes are read before and after. How much of the day
falls into its busiest ten minutes comes from the made day. The shape of the day is an assumption:
*common practice, no source*.
"""

import collections
import concurrent.futures
import datetime
import gzip
import json
import os
import random
import re
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import uuid

BASE, SERVER, POSTMASTER, POSTGRES, LOG = sys.argv[1:6]
FARMS = 1_000          # that the day is made for
RECORDS = 10           # a farm and day
OFFLINE = 0.6          # of the farms have no signal during the day
CONNECTIONS = 8
OFFICERS = FARMS // 60
TICKS = os.sysconf("SC_CLK_TCK")
ACTIVE_S = 14 * 3600   # from first milking to last record
CHANCE = random.Random(20260320)


# --- what the kernel and the programs say ---------------------------------------------------------

def stat(pid):
    with open(f"/proc/{pid}/stat") as file:
        return file.read().rsplit(")", 1)[1].split()


def app_seconds():
    fields = stat(SERVER)
    return (int(fields[11]) + int(fields[12])) / TICKS


def database_seconds():
    """The postmaster, its children that live, and those that have ended."""
    own = stat(POSTMASTER)
    ticks = sum(int(own[at]) for at in (11, 12, 13, 14))
    for pid in filter(str.isdigit, os.listdir("/proc")):
        try:
            fields = stat(pid)
            if fields[1] == POSTMASTER:
                ticks += int(fields[11]) + int(fields[12])
        except OSError:
            pass
    return ticks / TICKS


def ask_database(sql):
    done = subprocess.run(["psql", "-At", POSTGRES, "-c", sql], check=True, capture_output=True, text=True)
    return done.stdout.strip()


def statements():
    text = urllib.request.urlopen(BASE + "/metrics").read().decode()
    return int(re.search(r"^traybook_database_statements_total (\d+)", text, re.M).group(1))


class Cost:
    """What was used since it was made."""

    def __init__(self):
        self.app, self.database = app_seconds(), database_seconds()
        self.statements = statements()
        self.wal = int(ask_database("SELECT pg_wal_lsn_diff(pg_current_wal_lsn(), '0/0')::bigint"))

    def until(self, later):
        return {name: getattr(later, name) - getattr(self, name) for name in vars(self)}


# --- requests -------------------------------------------------------------------------------------

lock = threading.Lock()
traffic = collections.Counter()


def send(token, method, path, body=None):
    data = None if body is None else json.dumps(body).encode()
    headers = {"authorization": f"Bearer {token}", "content-type": "application/json",
               "accept-encoding": "gzip"}
    request = urllib.request.Request(BASE + path, data, headers, method=method)
    try:
        with urllib.request.urlopen(request, timeout=120) as answer:
            text, status, coding = answer.read(), answer.status, answer.headers.get("content-encoding")
    except urllib.error.HTTPError as error:
        text, status, coding = error.read(), error.code, error.headers.get("content-encoding")
    with lock:
        traffic["in"] += len(data or b"")
        traffic["out"] += len(text)
    if coding == "gzip":
        text = gzip.decompress(text)
    assert status in (200, 201), f"{method} {path}: {status} {text[:300]}"
    return text


def read(token, path):
    return json.loads(urllib.request.urlopen(urllib.request.Request(
        BASE + path, headers={"authorization": f"Bearer {token}"})).read())


def sign_in(role):
    line = next(l for l in open(LOG) if re.match(rf"  {role} ", l))
    _, login, *password = line.split()
    body = json.dumps({"login": login, "password": " ".join(password)}).encode()
    request = urllib.request.Request(f"{BASE}/v1/session", body, {"content-type": "application/json"})
    return json.load(urllib.request.urlopen(request))["access_token"]


def all_of(token, path, most):
    items, next_page = [], f"{path}?limit=200"
    while next_page and len(items) < most:
        page = read(token, next_page)
        items += page["items"]
        next_page = page.get("next")
    return items[:most]


# --- the day --------------------------------------------------------------------------------------

def new_id():
    millis = int(time.time() * 1000).to_bytes(6, "big")
    rest = bytearray(CHANCE.randbytes(10))
    rest[0], rest[2] = 0x70 | rest[0] & 0x0F, 0x80 | rest[2] & 0x3F
    return str(uuid.UUID(bytes=millis + bytes(rest)))


def around(hour, spread_h):
    return min(max(CHANCE.gauss(hour, spread_h), 4), 22) * 3600


def day_of(farm):
    """The records of a farm, each with the second at which it is made."""
    group, shed, day = farm["group"], farm["shed"], farm["day"]
    make = lambda kind, body: {"operation": "create", "kind": kind, "id": new_id(), "body": body}
    litres = lambda: round(CHANCE.uniform(4, 14), 1)
    milk = lambda session: make("milk_record", {"animal_group_id": group, "date": day, "session": session,
                                                "litres": litres(), "animals_in_milk": 2})
    yield around(6.5, 0.6), milk("morning")
    yield around(17.5, 0.7), milk("evening")
    for hour in (7, 10, 13, 16):
        yield around(hour, 0.7), make("reading", {
            "farm_id": farm["farm"], "shed_id": shed, "at": f"{farm['yesterday']}T{hour:02}:{CHANCE.randrange(60):02}:00.000Z",
            "temperature_c": round(CHANCE.uniform(18, 27), 1), "humidity_percent": CHANCE.randrange(50, 90)})
    for hour in (7.5, 8, 15, 16):
        yield around(hour, 0.8), make("other_cost", {"farm_id": farm["farm"], "date": day, "category": "labour",
                                                     "amount": CHANCE.randrange(1, 40) * 100})


def the_day(farms):
    """Calls of a whole day: second, kind of call, what is sent."""
    calls = []
    for farm in farms:
        records = sorted(day_of(farm), key=lambda r: r[0])
        assert len(records) == RECORDS
        if CHANCE.random() < OFFLINE:
            # It comes into reach at noon and in the evening.
            noon, evening = around(12.3, 0.4), around(19, 0.8)
            for reach, part in [(noon, [r for at, r in records if at < noon]),
                                (evening, [r for at, r in records if at >= noon])]:
                if part:
                    calls.append((reach, "queue of an offline telephone", part))
                    calls.append((reach + 1, "changes since", None))
        else:
            for at, record in records:
                calls.append((at + CHANCE.uniform(0, 300), "a record at once", [record]))
            calls += [(around(hour, 1), "changes since", None) for hour in (6, 12, 18)]
        calls += [(around(hour, 0.5), "work of a farm", farm["farm"]) for hour in (6, 16)]
    for _ in range(OFFICERS):
        calls += [(around(CHANCE.uniform(8, 16), 0.5), "an officer's list", path)
                  for path in ("/v1/visit-list", "/v1/work", "/v1/flags", "/v1/batches?limit=50") * 5]
    calls += [(around(CHANCE.uniform(8, 16), 0.5), "a manager's report", path)
              for path in ("/v1/reports/savings?month={month}", "/v1/output-change?enterprise=milk", "/v1/spoilage", "/v1/review",
                           "/v1/seed-forecast") * 4]
    return sorted(calls, key=lambda c: c[0])


def busiest(seconds, width=600):
    """The largest share of some moments that falls into one window."""
    bins = collections.Counter(int(at // width) for at in seconds)
    return max(bins.values()) / len(seconds)


# --- playing it -----------------------------------------------------------------------------------

def play(calls, manager, officer, cursor, month):
    def one(call):
        _, kind, what = call
        if kind in ("queue of an offline telephone", "a record at once"):
            answer = json.loads(send(manager, "POST", "/v1/sync", {"mutations": what}))
            wrong = [r for r in answer["results"] if r["status"] != "done"]
            assert not wrong, wrong[:1]
        elif kind == "changes since":
            send(manager, "GET", f"/v1/changes?limit=50&after={cursor}")
        elif kind == "work of a farm":
            send(manager, "GET", f"/v1/work?farm_id={what}")
        elif kind == "an officer's list":
            send(officer, "GET", what)
        else:
            send(manager, "GET", what.format(month=month))

    with concurrent.futures.ThreadPoolExecutor(CONNECTIONS) as pool:
        list(pool.map(one, calls))


def quiet():
    """Waits until no figures are being made."""
    last = app_seconds()
    while True:
        time.sleep(3)
        now = app_seconds()
        if now - last < 0.1:
            return
        last = now


def a_making(manager, farm):
    """What all figures of 2,000 farms cost, made once."""
    time.sleep(65)
    quiet()
    before = Cost()
    record = [r for _, r in day_of(farm)][-1]
    send(manager, "POST", "/v1/sync", {"mutations": [record]})
    began = time.monotonic()
    while app_seconds() - before.app < 0.5 and time.monotonic() - began < 180:
        time.sleep(1)
    quiet()
    return before.until(Cost())


def main():
    for _ in range(300):
        try:
            urllib.request.urlopen(BASE + "/health/ready")
            break
        except OSError:
            time.sleep(0.2)
    manager, officer = sign_in("manager"), sign_in("officer")
    today = datetime.date.today()
    month = (today.replace(day=1) - datetime.timedelta(days=1)).strftime("%Y-%m")
    groups = {g["farm_id"]: g["id"] for g in all_of(manager, "/v1/animal-groups", 10_000)
              if g["animal_class"] == "dairy_cows"}
    sheds = {s["farm_id"]: s["id"] for s in all_of(manager, "/v1/sheds", 10_000)}
    # Nothing may lie in the future: what has an hour is of yesterday.
    day, yesterday = today.isoformat(), (today - datetime.timedelta(days=1)).isoformat()
    farms = [{"farm": f, "group": groups[f], "shed": sheds[f], "day": day, "yesterday": yesterday} for f in groups if f in sheds][:FARMS]
    scale = FARMS / len(farms)
    cursor, has_more = "", True
    while has_more:
        page = read(manager, "/v1/changes?limit=1000" + (f"&after={cursor}" if cursor else ""))
        cursor, has_more = page["next"], page["has_more"]
    quiet()
    calls = the_day(farms)
    size = lambda: int(ask_database("SELECT pg_database_size(current_database())"))
    before = size()
    whole = collections.Counter()
    print(f"{len(farms)} farms, {len(calls)} calls a day, {OFFICERS} officers; per call:")
    print(f"{'':<32}{'calls':>7}{'app ms':>9}{'db ms':>8}{'statements':>12}{'in B':>8}{'out B':>9}")
    for kind in sorted({c[1] for c in calls}):
        some = [c for c in calls if c[1] == kind]
        traffic.clear()
        start = Cost()
        play(some, manager, officer, cursor, month)
        used = start.until(Cost()) | {"in": traffic["in"], "out": traffic["out"], "calls": len(some)}
        whole.update(used)
        n = len(some)
        print(f"{kind:<32}{n:>7}{used['app'] / n * 1000:>9.2f}{used['database'] / n * 1000:>8.2f}"
              f"{used['statements'] / n:>12.1f}{used['in'] / n:>8.0f}{used['out'] / n:>9.0f}")
    grown = size() - before
    making = a_making(manager, farms[-1] | {"day": (today - datetime.timedelta(days=1)).isoformat()})
    report(calls, {name: value * scale for name, value in whole.items()}, grown * scale, making)
    a_programme(month)


def a_programme(month):
    """Sums over 5,000 co-operatives: the cells of the one that is there, copied."""
    reader = sign_in("programme_reader")
    ask = f"/v1/programme-sum?month={month}&by=sex"
    one = json.loads(send(reader, "GET", ask))
    ask_database("SET session_replication_role = replica; INSERT INTO programme_cells "
                 "SELECT g, month, division, cell, figure, currency, people, is_hidden, top, bottom, half "
                 "FROM programme_cells, generate_series(1000, 5999) g WHERE coop_id < 1000; ANALYZE programme_cells")
    took, before = [], Cost()
    for _ in range(21):
        began = time.monotonic()
        many = json.loads(send(reader, "GET", ask))
        took.append(time.monotonic() - began)
    used = before.until(Cost())
    assert many != one, "they are added up"
    print(f"\nsums of a programme over 5,001 co-operatives: {sorted(took)[10] * 1000:,.0f} ms, slowest "
          f"{max(took) * 1000:,.0f} ms; processor of the database {used['database'] / 21 * 1000:,.0f} ms (aim 200 ms)")


def report(calls, whole, grown, making):
    # The demo's co-operative is two of 1,000 farms: half of a making is one's.
    each = (making["app"] + making["database"]) / 2
    makings = ACTIVE_S / max(60, 20 * making["app"] / 2)
    made = {name: making[name] / 2 * makings for name in ("app", "database", "statements")}
    print("\nper 1,000 farms and day")
    print(f"  requests {whole['calls']:,.0f}; statements {whole['statements']:,.0f}; "
          f"bytes in {whole['in'] / 1e6:,.1f} MB, out {whole['out'] / 1e6:,.1f} MB")
    print(f"  requests: processor of the server {whole['app']:,.1f} s, of the database {whole['database']:,.1f} s")
    print(f"  figures: one making {each:,.2f} s of processor, at most {makings:,.0f} a day: "
          f"server {made['app']:,.0f} s, database {made['database']:,.0f} s")
    print(f"  database grows {grown / 1e6:,.2f} MB, log of changes for a standby {whole['wal'] / 1e6:,.1f} MB")
    share = busiest([c[0] for c in calls])
    writes = [c[0] for c in calls if c[2] and isinstance(c[2], list)]
    peak_writes = busiest(writes) * len(writes) / 600
    print(f"  busiest ten minutes: {share:.1%} of all calls")
    print("\nfarms       calls/s  writes/s  server cores  database cores  grows a year   needs")
    for farms in (10_000, 100_000, 1_000_000, 5_000_000):
        k = farms / 1000
        load = lambda name: (whole[name] * share / 600 + made[name] / ACTIVE_S) * k
        app, database = load("app"), load("database")
        print(f"{farms:>9,}{len(calls) * share / 600 * k:>10,.1f}{peak_writes * k:>10,.1f}{app:>14,.2f}{database:>16,.2f}"
              f"{grown * k * 365 / 1e9:>11,.0f} GB   {needs(app, database, peak_writes * k, grown * k * 365)}")


# One machine of today: cores, synchronous commits a second of one log, bytes of disk; each used to a
# third. From memory, no source.
CORES, COMMITS, DISK = 16, 2_000, 4e12


def needs(app, database, writes, year):
    """What is needed, and which figure breaks first on one machine of each kind."""
    cores = CORES / 3
    servers = max(1, -(-app // cores))
    by = {"cores of the database": database / cores, "commits of one log": writes / (COMMITS / 3),
          "disk of a year": year / (DISK / 3), "cores of one server": app / cores}
    first = max(by, key=by.get)
    parts = max(1, -(-max(v for name, v in by.items() if name != "cores of one server") // 1))
    return f"{servers:.0f} servers, {parts:.0f} PostgreSQL; first: {first}"


main()

"""Reads each farm's calendar from a running server with a parser of its own (PyPI: icalendar).

Usage: read_calendar.py BASE_URL ACCESS_TOKEN
"""

import json
import sys
import urllib.error
import urllib.request
from datetime import timedelta

import icalendar

base, token = sys.argv[1:]


def call(method, path, signed_in=True):
    headers = {"authorization": f"Bearer {token}"} if signed_in else {}
    request = urllib.request.Request(base + path, method=method, headers=headers)
    with urllib.request.urlopen(request) as answer:
        return answer.read()


def read(farm):
    """Checks one farm's calendar; the numbers of its entries and of today's open lines."""
    links = f"/v1/farms/{farm['farm_id']}/calendar-links"
    link = json.loads(call("POST", links))
    read = icalendar.Calendar.from_ical(call("GET", link["path"], signed_in=False))
    assert read["VERSION"] == "2.0" and not read.errors, read.errors
    events = list(read.walk("VEVENT"))
    assert not [e for event in events for e in event.errors]
    uids = [str(event["UID"]) for event in events]
    assert len(uids) == len(set(uids)), f"{farm['farm']}: each entry has its own name"
    for event in events:
        assert event["DTSTART"].dt.utcoffset() == timedelta(0)
        assert event["DTEND"].dt - event["DTSTART"].dt == timedelta(minutes=30)
    summaries = {str(event["SUMMARY"]) for event in events}
    open_lines = [line["sentence"] for line in farm["lines"] if line["state"] != "done"]
    missing = [sentence for sentence in open_lines if sentence not in summaries]
    assert not missing, missing
    call("DELETE", f"{links}/{link['id']}")
    try:
        call("GET", link["path"], signed_in=False)
        raise SystemExit("a revoked calendar is still there")
    except urllib.error.HTTPError as error:
        assert error.code == 404
    return len(events), len(open_lines)


# All of them: what goes wrong is seldom on the busiest farm.
farms = json.loads(call("GET", "/v1/work"))["farms"]
entries, lines = (sum(numbers) for numbers in zip(*map(read, farms)))
assert lines, "no farm has work today"
print(f"{entries} entries of {len(farms)} farms, {lines} of today's lines among them; revoked")

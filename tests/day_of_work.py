"""A day of work in the demo co-operative, done through the interface as a member, an officer and
a manager do it. Prints what each of them reads, and fails when an answer is not as it should be.

Usage: day_of_work.py BASE_URL MEMBER_TOKEN OFFICER_TOKEN MANAGER_TOKEN
"""

import json
import sys
import urllib.error
import urllib.request

base, *tokens = sys.argv[1:]
MEMBER, OFFICER, MANAGER = tokens


def call(who, method, path, body=None, expect=(200, 201), accept=None, etag=None):
    headers = {"authorization": f"Bearer {who}", "content-type": "application/json"}
    if accept:
        headers["accept"] = accept
    if etag:
        headers["if-match"] = etag
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(base + path, data, headers, method=method)
    try:
        with urllib.request.urlopen(request) as answer:
            status, text, tag = answer.status, answer.read().decode(), answer.headers.get("etag")
    except urllib.error.HTTPError as error:
        status, text, tag = error.code, error.read().decode(), None
    assert status in expect, f"{method} {path}: {status} {text}"
    shape = json.loads(text) if text and not accept else text
    return (shape, tag) if etag == "" else shape


def todo(work):
    return [line for farm in work["farms"] for line in farm["lines"] if line["state"] != "done"]


print("== member: what to do today, one call a line")
work = call(MEMBER, "GET", "/v1/work")
assert todo(work), "the demo's member has work"
done = []
for line in todo(work):
    if line["task"] in ("harvest", "discard") and line["cautions"]:
        print("   left for the officer:", line["sentence"], line["cautions"])
        continue
    body = {"line": line["line"]}
    if line["task"] == "harvest":
        body["kg"] = round(line["kg"] * 0.97, 1)
    if line["task"] == "feed" and not line["kg"]:
        continue
    call(MEMBER, "POST", "/v1/work", body)
    again = call(MEMBER, "POST", "/v1/work", body, expect=(200,))
    assert not any(record["is_new"] for record in again["records"]), "sent twice, kept once"
    done.append(line["line"])
    print("  ", line["task"], "·", line["sentence"])
left = {line["line"] for line in todo(call(MEMBER, "GET", "/v1/work"))}
assert not left & set(done), "what was done is not asked for again"
farm = work["farms"][0]["farm_id"]
account = call(MEMBER, "GET", f"/v1/seed-accounts/{farm}")
print("   owes for seed:", account["closing_balance"], account["currency"])

print("== officer: the round, a plan, a hold, the review list")
visits = call(OFFICER, "GET", "/v1/visit-list")["items"]
print("   first to visit:", visits[0]["farm"] if visits else "nobody")
round_ = call(OFFICER, "GET", "/v1/work")
late = [line for line in todo(round_) if line["state"] == "late"]
print(f"   {len(round_['farms'])} farms, {len(todo(round_))} lines open, {len(late)} late")
one = round_["farms"][0]
plan = call(OFFICER, "GET", f"/v1/farms/{one['farm_id']}/plan?days=14")
shed = plan["sheds"][0]
steady = plan["steady_state"]
print(f"   {one['farm']}: {steady['trays_a_day']} trays a day, {steady['places']} of "
      f"{shed['places']} places, {steady['seed_kg_a_day']} kg of seed a day")
lot = next(line["seed_lot_id"] for line in todo(round_) if line["seed_lot_id"])
hold = call(OFFICER, "POST", "/v1/lot-holds",
            {"seed_lot_id": lot, "held_from": round_["today"], "reason": "smells musty"})
warned = [f["farm"] for f in call(OFFICER, "GET", "/v1/work")["farms"]
          if any("is held" in w for w in f["warnings"])]
assert warned, "every farm that has the lot is warned at once"
print("   lot held; warned at once:", ", ".join(warned))
refused = call(OFFICER, "POST", "/v1/seed-issues",
               {"seed_lot_id": lot, "farm_id": one["farm_id"], "date": round_["today"], "kg": 5,
                "payment": "credit"}, expect=(422,))
print("   issue refused:", refused["errors"][0]["detail"])
findings = call(OFFICER, "GET", "/v1/review")["items"]
print(f"   {len(findings)} findings on the review list")
if findings:
    first = findings[0]
    print("  ", first["rule"], "·", first["problem"], "·", first["fix"])
    call(OFFICER, "POST", "/v1/review-acceptances",
         {"farm_id": first["farm_id"], "rule": first["rule"], "finding": first["finding"],
          "evidence": first["evidence"], "accepted_on": round_["today"], "reason": "seen on the farm"})
    rest = call(OFFICER, "GET", "/v1/review")["items"]
    assert first["finding"] not in {f["finding"] for f in rest}, "accepted with a reason"
sheet = call(OFFICER, "GET", "/v1/work-sheet", accept="text/html")
assert sheet.count("<section>") >= len(round_["farms"])

print("== manager: trace, release, forecast, suppliers, feed")
trace = call(MANAGER, "GET", f"/v1/seed-lots/{lot}/trace")
fed = [f["farm"] for f in trace["farms"] if f["fed_kg"]]
print("   lot", trace["seed_lot"], "of", trace["supplier"], "fed on", ", ".join(fed) or "no farm")
_, tag = call(MANAGER, "GET", f"/v1/lot-holds/{hold['id']}", etag="")
call(MANAGER, "PATCH", f"/v1/lot-holds/{hold['id']}",
     {"released_on": round_["today"], "finding": "only the outer bag was wet"}, etag=tag)
forecast = call(MANAGER, "GET", "/v1/seed-forecast?weeks=8")
for crop in forecast["crops"]:
    store = crop["store"]
    print(f"   {crop['crop']}: {crop['need_kg']} kg in {forecast['weeks']} weeks, store "
          f"{store['stock_kg']} kg, order {store['to_buy_bags']} bags by {store['order_by']}")
assert any(crop["need_kg"] > 0 for crop in forecast["crops"])
purchases = call(MANAGER, "GET", "/v1/seed-forecast?weeks=8", accept="text/csv")
assert purchases.startswith("crop,issue_point")
suppliers = call(MANAGER, "GET", "/v1/supplier-comparison")
print("   suppliers:", suppliers["sentence"])
month = round_["today"][:7]
values = call(MANAGER, "GET", f"/v1/feed-values?month={month}")
print("   feeds priced:", len(values["feeds"]))
print("done: nothing was lost, nothing doubled")

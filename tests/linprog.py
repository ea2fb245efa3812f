"""Least-cost mixes against another solver: scipy.optimize.linprog (HiGHS).

Makes random requests with a fixed seed, solves each here and with `solve_mix` (one JSON object a
line on its standard input), and compares status, cost, contents, what loosening a limit saves,
what one kg more costs and up to which price a feed is worth buying. Of an impossible request the
set of clashing limits must be impossible, and possible without any one of them.

    python tests/linprog.py target/debug/examples/solve_mix [SEED CASES]

Exit status 1 on any difference.
"""

import collections
import json
import random
import subprocess
import sys

from scipy.optimize import linprog

SEED = 20260320
CASES = 420
REL = 1e-6


def content(feed, nutrient):
    """In a kg of dry matter: kg of protein, MJ, or the nutrient's own unit."""
    if nutrient == "dry_matter":
        return 1.0
    if nutrient == "crude_protein":
        return feed["crude_protein_percent"] / 100
    if nutrient == "energy":
        return feed["energy_mj_per_kg"]
    return feed["nutrients"][nutrient]


def rows_of(request):
    """Rows a·x ≤ b by JSON pointer, and the equality of the amount; in kg as fed."""
    feeds = request["feeds"]
    dry = [f["dry_matter_percent"] / 100 for f in feeds]
    rows = {}
    for i, limit in enumerate(request["limits"]):
        unit = 0.01 if limit["nutrient"] == "crude_protein" and limit["per"] != "day" else 1.0
        for side, sign in (("min", -1.0), ("max", 1.0)):
            if limit.get(side) is None:
                continue
            asked = limit[side] * unit
            held = [d * content(f, limit["nutrient"]) for f, d in zip(feeds, dry)]
            if limit["per"] == "day":
                row = ([sign * h for h in held], sign * asked)
            else:
                row = ([sign * (h - asked * d) for h, d in zip(held, dry)], 0.0)
            rows[f"/limits/{i}/{side}"] = row
    for j, feed in enumerate(feeds):
        one = [1.0 if k == j else 0.0 for k in range(len(feeds))]
        for side, sign in (("min", -1.0), ("max", 1.0)):
            kg, share = feed.get(f"{side}_kg"), feed.get(f"{side}_share_percent")
            if kg is not None:
                rows[f"/feeds/{j}/{side}_kg"] = ([sign * o for o in one], sign * kg)
            if share is not None:
                factors = [sign * (o - share / 100) for o in one]
                rows[f"/feeds/{j}/{side}_share_percent"] = (factors, 0.0)
    if request.get("dry_matter_kg") is not None:
        return rows, (dry, request["dry_matter_kg"])
    return rows, ([1.0] * len(feeds), request["as_fed_kg"])


def solve(costs, rows, amount):
    rows = list(rows)
    for tolerance in (1e-9, 1e-7):
        found = linprog(
            costs,
            A_ub=[a for a, _ in rows] or None,
            b_ub=[b for _, b in rows] or None,
            A_eq=[amount[0]],
            b_eq=[amount[1]],
            method="highs",
            options={
                "primal_feasibility_tolerance": tolerance,
                "dual_feasibility_tolerance": tolerance,
            },
        )
        if found.status in (0, 2):
            break
    return found


def make(rng, index):
    kind = ("plain", "tight", "degenerate", "scaled")[index % 4]
    count = rng.randint(1, 12)
    scale = 10 ** rng.uniform(-3, 5) if kind == "scaled" else 1.0
    feeds = []
    for j in range(count):
        feed = {
            "name": f"feed {j}",
            "price": round(rng.uniform(5, 2_000), 2) * scale,
            "dry_matter_percent": round(rng.uniform(10, 95), 1),
            "crude_protein_percent": round(rng.uniform(2, 48), 1),
            "energy_mj_per_kg": round(rng.uniform(5, 15), 2),
            "nutrients": {"calcium_g": round(rng.uniform(0, 12), 2)},
        }
        if kind == "degenerate":
            # Few distinct values: ties in price, twins, limits that meet in one point.
            feed["price"] = rng.choice([100.0, 200.0, 400.0])
            feed["dry_matter_percent"] = rng.choice([50.0, 90.0])
            feed["crude_protein_percent"] = rng.choice([10.0, 20.0, 40.0])
            feed["energy_mj_per_kg"] = rng.choice([8.0, 12.0])
            feed["nutrients"] = {"calcium_g": rng.choice([0.0, 5.0])}
        feeds.append(feed)
    amount = rng.choice([1.0, 8.5, 250.0]) * (10 ** rng.uniform(-2, 3) if kind == "scaled" else 1)
    request = {"bag_kg": 70, "feeds": feeds, "limits": []}
    request[rng.choice(["dry_matter_kg", "as_fed_kg"])] = amount
    names = rng.sample(["crude_protein", "energy", "calcium_g", "dry_matter"], rng.randint(1, 3))
    for name in names:
        per = "day" if name == "dry_matter" else rng.choice(["kg_dry_matter", "day"])
        held = [content(f, name) * (100 if name == "crude_protein" else 1) for f in feeds]
        low, high = min(held), max(held)
        spread = {"tight": (0.9, 1.3), "degenerate": (0.0, 1.0)}.get(kind, (0.2, 0.8))
        at = lambda: low + rng.uniform(*spread) * (high - low)
        if kind == "degenerate":
            at = lambda: rng.choice([low, high, (low + high) / 2])
        bounds = sorted([at(), at()])
        limit = {"nutrient": name, "per": per}
        if per == "day":
            weight = amount / (100 if name == "crude_protein" else 1)
            mean_dry = 1 if "dry_matter_kg" in request else 0.6
            bounds = [b * weight * mean_dry for b in bounds]
        sides = rng.choice([("min",), ("max",), ("min", "max")])
        for side, bound in zip(("min", "max"), bounds):
            if side in sides:
                limit[side] = bound
        request["limits"].append(limit)
    for feed in feeds:
        if rng.random() < 0.25:
            feed["max_share_percent"] = rng.choice([10.0, 25.0, 50.0])
        if rng.random() < 0.1:
            feed["min_share_percent"] = rng.choice([2.0, 5.0])
        if rng.random() < 0.2:
            feed["max_kg"] = amount * rng.choice([0.1, 0.3, 0.8])
        if rng.random() < 0.1:
            feed["min_kg"] = amount * rng.choice([0.01, 0.05])
    return kind, request


class Checks:
    def __init__(self):
        self.faults = []
        self.counts = collections.Counter()

    def near(self, what, got, want, size=None):
        self.counts[what] += 1
        size = max(abs(want), size or 0.0, 1e-12)
        if got is None or abs(got - want) > REL * size:
            self.faults.append(f"{what}: {got} for {want}")

    def true(self, what, holds, said=""):
        self.counts[what] += 1
        if not holds:
            self.faults.append(f"{what} {said}")


def check_found(checks, request, answer, best):
    rows, amount = rows_of(request)
    feeds = request["feeds"]
    costs = [f["price"] for f in feeds]
    checks.near("cost", answer["cost"], best.fun)
    x = [part["as_fed_kg"] for part in answer["feeds"]]
    for pointer, (a, b) in rows.items():
        parts = sum(abs(p * q) for p, q in zip(a, x))
        over = sum(p * q for p, q in zip(a, x)) - b
        # A limit far below what the feeds hold is met to a billionth of what they hold.
        small = 1e-9 * max(abs(p) for p in a) * amount[1]
        within = max(REL * max(parts, abs(b)), small)
        checks.true("limit met", over <= within, f"{pointer} by {over}")
    checks.near("amount", sum(p * q for p, q in zip(amount[0], x)), amount[1])

    marginals = dict(zip(rows, best.ineqlin.marginals))
    by_pointer = {m["pointer"]: m for m in answer["binding_limits"]}
    fed, dry = answer["as_fed_kg"], answer["dry_matter_kg"]

    def units(pointer):
        """What one unit as asked moves the row's right side by."""
        if pointer.endswith("share_percent"):
            return 0.01 * fed
        if pointer.startswith("/limits"):
            limit = request["limits"][int(pointer.split("/")[2])]
            if limit["per"] != "day":
                return (0.01 if limit["nutrient"] == "crude_protein" else 1.0) * dry
        return 1.0

    for pointer, (a, b) in rows.items():
        met = by_pointer.get(pointer)
        if met is None:
            checks.near("no shadow price", 0.0, marginals[pointer] * units(pointer), abs(best.fun))
            continue
        # The one-sided derivative, from the other solver: a little looser.
        weight = max(sum(abs(p) * q for p, q in zip(a, x)), abs(b))
        step = 1e-5 * weight
        if step <= 0.0:
            continue
        looser = dict(rows)
        looser[pointer] = (a, b + step)
        there = solve(costs, looser.values(), amount)
        if there.status != 0:
            continue
        slope = (best.fun - there.fun) / step
        unique = abs(slope + marginals[pointer]) <= 1e-5 * max(slope, best.fun / weight)
        what = "shadow price"
        if unique and met["shadow_price"] is not None:
            want = -marginals[pointer] * units(pointer)
            size = best.fun / weight * units(pointer)
            checks.near(what + ", unique", met["shadow_price"], want, size)
        else:
            got = met["shadow_price"] / units(pointer)
            off = abs(got - slope)
            checks.true(what + ", one-sided", off <= 1e-4 * max(slope, best.fun / weight),
                        f"{pointer}: {got} for {slope}")

    check_next(checks, request, answer, best.fun)
    for j, part in enumerate(answer["feeds"]):
        check_worth(checks, request, j, part, best.fun)
        beyond = part["beyond_limit_price_per_kg"]
        if beyond is not None and beyond > 0:
            check_beyond(checks, request, j, beyond, best.fun)


def check_next(checks, request, answer, cost):
    """One kg more of the mix, as a step of a hundred-thousandth."""
    member = "dry_matter_kg" if request.get("dry_matter_kg") is not None else "as_fed_kg"
    more = dict(request)
    more[member] = request[member] * (1 + 1e-5)
    rows, amount = rows_of(more)
    there = solve([f["price"] for f in request["feeds"]], rows.values(), amount)
    got = answer["next_kg_costs"]
    if got is None:
        checks.true("no kg more", there.status == 2)
    elif there.status == 0:
        slope = (there.fun - cost) / (1e-5 * request[member])
        size = max(abs(slope), cost / request[member])
        checks.true("one kg more", abs(got - slope) <= 1e-4 * size, f"{got} for {slope}")


def check_worth(checks, request, j, part, cost):
    """Moves the price to either side of what the feed is said to be worth."""
    rows, amount = rows_of(request)
    costs = [f["price"] for f in request["feeds"]]
    least = request["feeds"][j].get("min_kg") or 0.0
    held = dict(rows)
    one = [1.0 if k == j else 0.0 for k in range(len(costs))]
    held["held"] = (one, least)
    worth = part["worth"]
    if worth["kind"] == "needed":
        checks.true("needed", solve(costs, held.values(), amount).status == 2, part["name"])
        return
    free = list(costs)
    free[j] = 0.0
    without = solve(free, held.values(), amount)
    checks.true("can be left out", without.status == 0, part["name"])
    if without.status != 0:
        return

    def gains(price):
        """What more than the least amount of it saves at this price."""
        at = list(costs)
        at[j] = price
        found = solve(at, rows.values(), amount)
        return without.fun + least * price - found.fun if found.status == 0 else 0.0

    if worth["kind"] == "never":
        checks.true("never", gains(0.0) <= 1e-7 * max(cost, 1e-9), part["name"])
        return
    price = worth["price_per_kg"]
    size = max(cost, without.fun, 1e-9)
    checks.true("above its worth", gains(price * 1.001) <= 1e-7 * size, part["name"])
    at = list(costs)
    at[j] = price * 0.98
    found = solve(at, rows.values(), amount)
    if found.status == 0:
        checks.true("below its worth", found.x[j] > least + 1e-9 * amount[1], part["name"])


def check_beyond(checks, request, j, beyond, cost):
    """Another feed of the same content that its largest amounts do not count."""
    rows, amount = rows_of(request)
    costs = [f["price"] for f in request["feeds"]]
    wide = {}
    for pointer, (a, b) in rows.items():
        extra = a[j] - 1.0 if pointer.startswith(f"/feeds/{j}/max_") else a[j]
        wide[pointer] = (list(a) + [extra], b)
    wide_amount = (list(amount[0]) + [amount[0][j]], amount[1])
    above = solve(costs + [beyond * 1.001], wide.values(), wide_amount)
    below = solve(costs + [beyond * 0.98], wide.values(), wide_amount)
    if above.status or below.status:
        return
    checks.true("beyond its limit, above", abs(above.fun - cost) <= 1e-7 * max(cost, 1e-9))
    checks.true("beyond its limit, below", below.x[-1] > 1e-9 * amount[1])


def check_clash(checks, request, answer):
    rows, amount = rows_of(request)
    nothing = [0.0] * len(request["feeds"])
    clash = {c["pointer"]: rows[c["pointer"]] for c in answer["limits"]}
    checks.true("clash", solve(nothing, clash.values(), amount).status == 2, str(list(clash)))
    for pointer in clash:
        fewer = [row for other, row in clash.items() if other != pointer]
        holds = solve(nothing, fewer, amount).status == 0
        checks.true("clash is the smallest", holds, pointer)


def main():
    seed, cases = (int(a) for a in sys.argv[2:4]) if len(sys.argv) > 3 else (SEED, CASES)
    rng = random.Random(seed)
    made = [make(rng, index) for index in range(cases)]
    lines = "".join(json.dumps(request) + "\n" for _, request in made)
    run = subprocess.run([sys.argv[1]], input=lines, capture_output=True, text=True, check=True)
    answers = [json.loads(line) for line in run.stdout.splitlines()]
    if len(answers) != len(made):
        sys.exit(f"{len(answers)} answers to {len(made)} requests")
    bad, counts, statuses = 0, collections.Counter(), collections.Counter()
    for index, ((kind, request), answer) in enumerate(zip(made, answers)):
        checks = Checks()
        rows, amount = rows_of(request)
        best = solve([f["price"] for f in request["feeds"]], rows.values(), amount)
        want = {0: "found", 2: "impossible"}.get(best.status, f"status {best.status}")
        statuses[f"{kind}, {want}"] += 1
        checks.true("status", answer["status"] == want, f"{answer['status']} for {want}")
        if not checks.faults and want == "found":
            check_found(checks, request, answer, best)
        elif not checks.faults:
            check_clash(checks, request, answer)
        counts.update(checks.counts)
        if checks.faults:
            bad += 1
            print(f"case {index} ({kind}): " + "; ".join(checks.faults[:4]))
            if bad <= 2:
                print("  " + json.dumps(request))
    print("cases:", ", ".join(f"{name} {n}" for name, n in sorted(statuses.items())))
    print("checks:", ", ".join(f"{name} {n}" for name, n in sorted(counts.items())))
    print(f"{len(made) - bad} of {len(made)} agree")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()

"""Output change against the same method written with numpy and scipy, on fresh made-up panels.

Makes random co-operatives with a fixed seed (cycles, areas, jumps, gaps, some with a stage), lets
`server/analytics/benches/reference_a.py` estimate them, writes each as a case, and asks the example
`run_case` whether the server's crate says the same.

    python tests/second_opinion.py target/debug/examples/run_case [SEED CASES]

Exit status 1 on any difference.
"""

import json
import math
import pathlib
import subprocess
import sys
import tempfile
import warnings

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "server/analytics/benches"))
import reference_a as ref  # noqa: E402

warnings.filterwarnings("ignore")
SEED, CASES = 20261129, 24
MEMBERS = ("status", "tau", "se", "df", "lo", "hi", "eb", "eb_se", "n_pre", "n_post", "rank", "verdict",
           "p_lower", "shift_z", "shift", "shift_month")


def plain(x):
    """Arrays to lists; what is no number to null."""
    if isinstance(x, dict):
        return {str(k): plain(v) for k, v in x.items()}
    if isinstance(x, (list, tuple)):
        return [plain(v) for v in x]
    if isinstance(x, np.ndarray):
        return plain(x.tolist())
    if isinstance(x, (bool, np.bool_)):
        return bool(x)
    if isinstance(x, (int, np.integer)):
        return int(x)
    if isinstance(x, (float, np.floating)):
        return float(x) if math.isfinite(x) else None
    return x


def panel(rng):
    """Farms by months: logarithm of output, records, start, area, stage."""
    n, months = int(rng.integers(14, 70)), int(rng.integers(14, 34))
    t = np.arange(months)
    area = rng.integers(0, 4, n)
    start = np.where(rng.random(n) < 0.7, rng.integers(4, months, n), ref.NEVER)
    phase, swing = rng.random((n, 1)) * 14, 0.1 * rng.random((n, 1))
    shocks = np.cumsum(0.02 * rng.standard_normal((4, months)), 1)
    y = (2 + 0.3 * rng.standard_normal((n, 1)) + swing * np.cos(2 * np.pi * (t + phase) / 14)
         + np.cumsum(0.02 * rng.standard_normal(months)) + shocks[area])
    records = rng.integers(2, 16, (n, months)).astype(float)
    y += 0.2 * rng.standard_normal((n, months)) / np.sqrt(records)
    y += np.where(t > start[:, None], 0.06 + 0.08 * rng.standard_normal((n, 1)), 0)
    jump = rng.random(n) < 0.08
    y += np.where(jump[:, None] & (t >= rng.integers(5, months - 3)), math.log(0.5), 0)
    gone = rng.random((n, months)) < 0.1
    y[gone], records[gone] = np.nan, 0
    stage = (30 + 30 * (t + rng.integers(0, 10, (n, 1)))) % 330.0
    stage[rng.random((n, months)) < 0.1] = np.nan
    stage[rng.random(n) < 0.2] = np.nan
    return y, records, start, area, stage


def case(rng):
    y, records, start, area, stage = panel(rng)
    is_staged = rng.random() < 0.4
    x = ref.stage_basis(ref.fill_stage(stage), "milk") if is_staged else None
    r = ref.member_effects(y, records, start, x, area=area)
    programme = r["programme"] and {k: v for k, v in r["programme"].items() if k != "d1"}
    expected = {
        "members": {name: r[name] for name in MEMBERS},
        "pooled": {"basis": r["basis"], "D": r["placebo"]["D"], "g": r["placebo"]["g"], "d0": r["d0"],
                   "s02": r["s02"], "v_common": r.get("v_common")},
        "dip": r["dip"],
        "programme": programme,
    }
    given = {"n": len(start), "T": y.shape[1], "Y": y, "N": records, "area": area, "stage": stage,
             "G": [None if g >= ref.NEVER else g for g in start], "accepted": None, "previous": None}
    config = {"version": 2, "output": "milk", "stage_adjust": is_staged, "settled": False,
              "told": 0.05, "keep_told": 0.08}
    tolerance = {"default": {"rel": 1e-6, "abs": 1e-8}, "d0,df": {"rel": 1e-4, "abs": 1e-6},
                 "s02,se,lo,hi,eb,eb_se,p_lower": {"rel": 1e-5, "abs": 1e-7}}
    return {"kind": "member_panel", "config": config, "input": given, "expected": expected,
            "tolerance": tolerance}


def main():
    program, *numbers = sys.argv[1:]
    seed, cases = [int(x) for x in numbers] if len(numbers) == 2 else (SEED, CASES)
    rng = np.random.default_rng(seed)
    off = 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(cases):
            path = pathlib.Path(folder) / f"{number}.json"
            path.write_text(json.dumps(plain(case(rng))))
            done = subprocess.run([program, str(path)], capture_output=True, text=True)
            last = done.stdout.strip().splitlines()[-1].split(": ", 1)[-1] if done.stdout else done.stderr
            # Members of the crate's answer that the case does not ask for are named "(extra)".
            wrong = [p for p in last.removeprefix("off at ").split(", ") if "(extra)" not in p]
            if last != "ok" and wrong:
                off += 1
                print(f"panel {number} of seed {seed}: {', '.join(wrong)}")
    print(f"{cases - off} of {cases} panels alike")
    return int(off > 0)


if __name__ == "__main__":
    sys.exit(main())

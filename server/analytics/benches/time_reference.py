"""Times the reference implementation beside this file on made-up data.

Usage: time_reference.py A|C FARMS.  Prints seconds.  Needs numpy and scipy.
"""
import sys
import time

import numpy as np

import reference as ref
import reference_a
import reference_c

MONTHS, FEEDS = 36, 4


def starts(rng, farms):
    g = rng.integers(6, 42, farms)
    return np.where(g < MONTHS - 2, g, reference_a.NEVER)


def output_change(rng, farms):
    g = starts(rng, farms)
    n = rng.integers(2, 20, (farms, MONTHS)).astype(float)
    y = rng.normal(2, 0.3, (farms, 1)) + rng.normal(0, 0.1, (farms, MONTHS))
    y[rng.random(y.shape) < 0.1] = np.nan
    t0 = time.perf_counter()
    reference_a.member_effects(y, n, g)
    cells, inf = reference_a.att_gt(y, g)
    reference_a.aggte(cells, inf, g, MONTHS, 1, "simple")
    reference_a.aggte(cells, inf, g, MONTHS, 1, "dynamic")
    return time.perf_counter() - t0


def panel_saving(rng, farms):
    g = starts(rng, farms)
    days = rng.integers(2, 12, (farms, 1)) * 30.4 + np.zeros((farms, MONTHS))
    rate = rng.uniform(0.5, 2, (farms, FEEDS))
    kg = rate[:, :, None] * days[:, None] * (1 + rng.normal(0, 0.1, (farms, FEEDS, MONTHS)))
    price = rng.uniform(0.3, 0.8, (farms, FEEDS, MONTHS))
    known = rng.random((farms, MONTHS)) > 0.1
    ration, area = rate * rng.normal(1.1, 0.1, (farms, FEEDS)), rng.integers(0, 10, farms)
    mixed = np.zeros((farms, MONTHS))
    t0 = time.perf_counter()
    month = np.full(farms, 5)
    panel = reference_c.saving_panel(kg, price, days, known, mixed, g, ration, month, area=area)
    reference_c.total(panel, np.ones(farms, bool), np.ones(MONTHS))
    return time.perf_counter() - t0


if __name__ == "__main__":
    work = {"A": output_change, "C": panel_saving}[sys.argv[1]]
    print(work(np.random.default_rng(1), int(sys.argv[2])))

"""Reference implementation of part C, version 2 (feed-cost saving).  numpy + one t quantile.
Days are integers; month t covers days ms[t] .. ms[t+1]-1.  NaN = no number.
Mended where the specification's sentences marked (+) stand above it; each such place says (+)."""
import math
import numpy as np
try:
    from scipy import stats as _st
    def tq(df): return float(_st.t.ppf(0.975, df))
except ImportError:                                        # Cornish-Fisher, 4 terms
    def tq(df):
        z = 1.959963984540054; z3, z5 = z**3, z**5
        return z + (z3+z)/(4*df) + (5*z5+16*z3+3*z)/(96*df*df)
NEVER = 10**9
C2 = dict(gap=1.5, low=0.8, high=3.0, price=2.0, min_usual=4, min_open=2, make_up=0.8, double=1.5, min_cover=0.75, mixed_before=0.1, mixed_after=0.5, min_month=6, base_window=12, min_base=3,
          min_ration=8, ration_sd=0.25, d0=4.0, hmax=6, season_sd=0.085, year_sd=0.04, open_cv=0.15, min_order=8, order=0.8, gap_widen=2.0, gap_bias=0.08)

# ---------------------------------------------------------------- C1: purchases -> kg eaten
def price_medians(rows, n_feeds, T, months_back=3, least=3):
    """rows: (feed, month, kg, cost); without a price left out (+).  Median unit price of the month over purchases (>= least of them), else the last such
    median within months_back months, else the median over all purchases of the feed."""
    med = np.full((n_feeds, T), np.nan); by = {}
    for k, t, kg, c in rows:
        if kg > 0 and c > 0: by.setdefault((int(k), int(t)), []).append(c / kg)
    for (k, t), v in by.items():
        if len(v) >= least: med[k, t] = np.median(v)
    out = med.copy()
    for t in range(T):
        for b in range(1, months_back + 1):
            if t - b >= 0: out[:, t] = np.where(np.isnan(out[:, t]), med[:, t - b], out[:, t])
    for k in range(n_feeds):
        a = [x for (kk, t), v in by.items() if kk == k for x in v]
        if a: out[k] = np.where(np.isnan(out[k]), np.median(a), out[k])
    return out

def spread(day, kg, cost, heads, start, asof, med=None, accepted=(), stock=(), **kw):
    """One farm and feed.  day, kg, cost: purchases in day order (kg 0 = 'nothing bought', which confirms a gap).
    heads: cumulative animal-days before each day (length >= asof+1).  start: day of the first soak.  asof: first day not known yet.
    med: co-operative's median price at each purchase (same length) or None.  accepted: positions of purchases accepted as entered.
    stock: (day, kg left in the morning).  Returns pieces [from, to, kg per animal-day, cost per animal-day, kind] and findings;
    kind 0 settled, 1 open (not yet followed by a purchase).  Days in no piece are not covered."""
    c = {**C2, **kw}; H = heads
    zeros = [int(d) for d, q in zip(day, kg) if q <= 0]
    lots = []                                              # [day, kg, cost, held, accepted]
    find = []
    for p, (d, q, m) in enumerate(zip(day, kg, cost)):
        if q <= 0: continue
        held = None
        if med is not None and np.isfinite(med[p]) and med[p] > 0 and p not in accepted:
            if m <= 0 or abs(math.log(m / q / med[p])) > math.log(c["price"]): held = "price"
        if m <= 0 and p in accepted and med is not None and np.isfinite(med[p]): m = q * med[p]     # given free: at the going price
        if held: find.append((int(d), held))
        if lots and lots[-1][0] == d:
            lots[-1][1] += q; lots[-1][2] += m; lots[-1][3] = lots[-1][3] or held; lots[-1][4] = lots[-1][4] or p in accepted
        else: lots.append([int(d), float(q), float(m), held, p in accepted])
    counted = None
    for d, q in sorted(stock):                             # a count splits the lot in use: what is left is a new lot
        before = [x for x in lots if x[0] < d]
        if not before or before[-1][1] <= 0: continue      # (+) after an empty lot it says nothing
        x = before[-1]
        if counted == d or q > x[1]: find.append((int(d), "stock")); continue
        u = x[2] / x[1]; i = lots.index(x); counted = d; x[1] -= q; x[2] = u * x[1]; x[4] = True
        if i + 1 < len(lots) and lots[i + 1][0] == d:      # (+) on a purchase day it counts before the purchase: what is left joins it
            y = lots[i + 1]; y[1] += q; y[2] += u * q; y[3] = y[3] or (x[3] if q > 0 else None)
        else: lots.insert(i + 1, [int(d), float(q), u * q, x[3], True])
    n = len(lots)
    if n == 0:                                             # (+) zeros without any lot: none eaten, known for 31 days each
        z = sorted(zeros) + [asof]
        return [[a, min(a + 31, b, asof), 0.0, 0.0, 0] for a, b in zip(z, z[1:]) if a < min(a + 31, b, asof)], find
    D = np.array([x[0] for x in lots] + [asof]); kq = np.array([x[1] for x in lots]); km = np.array([x[2] for x in lots])
    A = np.array([H[min(D[j + 1], asof)] - H[min(D[j], asof)] for j in range(n)], float); g = np.diff(D).astype(float)
    done = np.arange(n) < n - 1; ph = (D[:n] >= start).astype(int)
    # does a purchase feed the days after it, or does it replace what the days before used?  The steadier reading of the farm's own lots counts.
    nxt = np.append(np.arange(1, n), n - 1); fine = done & (A > 0) & np.array([lots[j][3] is None and lots[k][3] is None for j, k in enumerate(nxt)])
    before = False; f = np.flatnonzero(fine)
    if len(f) >= c["min_order"] and not stock:
        x = np.log(kq[f] / A[f]); y = np.log(kq[f + 1] / A[f])
        before = bool(np.median(np.abs(np.diff(y))) < c["order"] * np.median(np.abs(np.diff(x))))
    src = nxt if before else np.arange(n)
    Q, M = kq[src], km[src]; held = [lots[k][3] for k in src]; sure = [lots[k][4] for k in src]
    r = np.where(A > 0, Q / np.where(A > 0, A, 1), np.nan)
    ok = done & np.array([h is None for h in held]) & (A > 0)
    flag = [False] * n; rough = list(held)
    for turn in (0, 1):                                    # the second turn without what the first one found
        good = ok & np.array([not f and h is None for f, h in zip(flag, rough)])
        usual = {}
        for p in set(ph.tolist()):
            own = good & (ph == p); some = own if own.sum() >= c["min_usual"] else good
            if some.any():
                gs = np.sort(g[some]); ug = float(np.median(gs)); low = float(gs[(len(gs) - 1) // 4])
                if 1.5 * low < ug: ug = low                # a mixture of usual and double intervals: many are missing
                fit = some & (g <= c["gap"] * ug); own2 = own & fit
                usual[p] = (ug, float(np.median(r[fit])), some.sum() >= c["min_usual"], own.sum() >= c["min_usual"],
                            (float(np.median(g[own2])), float(np.median(r[own2]))) if own2.sum() >= c["min_open"] else None)
        flag = [False] * n; rough = list(held)
        for j in range(n - 1):
            u = usual.get(ph[j])
            if not ok[j] or not u or not u[2] or sure[j]: continue
            if r[j] > c["high"] * u[1] or (r[j] < u[1] / c["high"] and g[j] <= c["gap"] * u[0]): rough[j] = "kg"
            elif g[j] > c["gap"] * u[0] and r[j] < c["low"] * u[1] and not any(D[j] < z < D[j + 1] for z in zeros): flag[j] = True
    find += [(int(D[src[j]]), "kg") for j in range(n) if rough[j] == "kg"]; held = rough
    rate = r.copy(); unit = np.where(Q > 0, M / np.where(Q > 0, Q, 1), 0.0)
    for j in range(n - 1):                                 # a late or an early bulk purchase makes up for the gap
        if not flag[j]: continue
        u = usual[ph[j]]
        for o in (j + 1, j - 1):
            if o < 0 or o >= n - 1 or not ok[o] or held[o] or flag[o] or A[o] <= 0: continue
            R = (Q[j] + Q[o]) / (A[j] + A[o])
            if r[o] > c["double"] * u[1] and R >= c["make_up"] * u[1]:
                rate[j] = rate[o] = R; unit[j] = unit[o] = (M[j] + M[o]) / (Q[j] + Q[o]); flag[j] = False; ok[o] = False; break
    out = []
    for j in range(n):
        a, b = int(D[j]), int(D[j + 1])
        if held[j] or b <= a: continue
        u = usual.get(ph[j])
        if j < n - 1:
            if A[j] <= 0: out.append([a, b, 0.0, 0.0, 0]); continue
            if flag[j]:
                find.append((a, "gap"))
                if not u[3]: continue                       # no usual rate of its own since the start: not guessed
                e = min(b, int(np.searchsorted(H, H[a] + Q[j] / u[1], "left")))
                if e > a and H[e] > H[a]: out.append([a, e, Q[j] / (H[e] - H[a]), M[j] / (H[e] - H[a]), 0])
            else:
                e = b
                if u and any(a < z < b for z in zeros) and rate[j] == r[j]:          # nothing bought since: at most twice as long as usual, then none
                    e = min(b, int(np.searchsorted(H, H[a] + 2 * Q[j] / u[1], "left")))
                out.append([a, e, Q[j] / (H[e] - H[a]), M[j] / (H[e] - H[a]), 0] if e < b else [a, b, rate[j], rate[j] * unit[j], 0])
                if e < b: out.append([e, b, 0.0, 0.0, 0])
        elif kq[j] <= 0 and any(z >= a for z in zeros):    # (+) counted empty and nothing bought: there is no lot
            e = min(asof, max(zeros) + 31)
            if e > a: out.append([a, e, 0.0, 0.0, 0])
        elif u and any(z > a for z in zeros):              # nothing bought since: known for 31 days after the last recorded 0
            stop = min(asof, max(zeros) + 31); e = min(stop, int(np.searchsorted(H, H[a] + 2 * kq[j] / u[1], "left")))
            if e > a and H[e] > H[a]: out.append([a, e, kq[j] / (H[e] - H[a]), km[j] / (H[e] - H[a]), 0])
            if e < stop: out.append([e, stop, 0.0, 0.0, 0])
        elif u and u[4]:                                   # the lot in use; without lots since the start: wait for the next purchase
            u = u[4]
            if before: Q[j] = u[1] * max(A[j], u[0] * A[j] / max(1.0, g[j])) if g[j] <= c["gap"] * u[0] else u[1] * u[0] * A[j] / g[j]   # not replaced yet: as usual
            last = Q[j] / u[1]; el = H[min(b, asof)] - H[a]
            if el <= c["gap"] * last:
                R = Q[j] / max(last, el) if el > 0 else u[1]; out.append([a, asof, R, R * unit[j], 1])
            else:
                find.append((a, "gap")); e = min(asof, int(np.searchsorted(H, H[a] + last, "left")))
                if e > a and H[e] > H[a]: out.append([a, e, Q[j] / (H[e] - H[a]), M[j] / (H[e] - H[a]), 1])
    return out, sorted(set(find))

def month_use(pieces, heads, ms, start):
    """Pieces -> per month: kg, cost (of covered animal-days), covered, open and mixed animal-days (mixed: from the lot in use at the start)."""
    T = len(ms) - 1; o = np.zeros((5, T))
    for a, b, rk, rc, kind in pieces:
        mixed = a < start < b
        for t in range(max(0, int(np.searchsorted(ms, a, "right")) - 1), T):
            lo, hi = max(a, ms[t]), min(b, ms[t + 1])
            if lo >= hi: break
            ad = heads[hi] - heads[lo]
            o[0, t] += rk * ad; o[1, t] += rc * ad; o[2, t] += ad; o[3, t] += ad * (kind == 1); o[4, t] += ad * mixed
    return o

def cells(use, N, H, need, medprice, min_cover=C2["min_cover"]):
    """use[n,K,5,T], N[n,T] animal-days of the enterprise, H[n,K,T] of the groups that eat the feed, need[n,K,T] feeds needed that month (+).
    Returns kg[n,K,T], price, known[n,T], open share and mixed share [n,T].  Other feeds' kg as covered, not scaled up (+)."""
    cov = use[:, :, 2]; share = np.divide(cov, H, out=np.ones_like(cov), where=H > 0)
    kg = np.where(need, np.where(cov > 0, use[:, :, 0] / np.where(cov > 0, cov, 1) * H, 0.0), use[:, :, 0])
    price = np.where(use[:, :, 0] > 0, use[:, :, 1] / np.where(use[:, :, 0] > 0, use[:, :, 0], 1), medprice[None])
    known = (N > 0) & ((share >= min_cover) | ~need).all(1) & need.any(1)
    cost = kg * np.nan_to_num(price)
    tot = np.maximum(1e-12, cost.sum(1))
    op = (cost * np.divide(use[:, :, 3], cov, out=np.zeros_like(cov), where=cov > 0)).sum(1) / tot
    mx = (np.divide(use[:, :, 4], cov, out=np.zeros_like(cov), where=cov > 0) * need).max(1)
    return kg, price, known, op, mx

# ---------------------------------------------------------------- C2: season index
def season_index(c, U, min_month=6, iters=30, tol=1e-12):
    """c[n,T] constant-price cost per animal-day, U untreated cells.  Two-way multiplicative (Poisson, each farm scaled to its own mean),
    farm levels eliminated, Newton.  Returns dict(m, S, mu, U, keep) ; m mean 1 over its months, NaN where fewer than min_month farms."""
    n, T = c.shape; U = U & np.isfinite(c)
    for _ in range(T):
        keep = U.sum(0) >= min_month; V = U & keep; V &= (V.sum(1) >= 2)[:, None]
        if (V == U).all(): break
        U = V
    keep = U.sum(0) >= min_month
    if not keep.any(): return dict(m=np.full(T, np.nan), S=None, mu=np.zeros((n, T)), U=U & False, keep=keep, z=np.zeros((n, T)))
    cnt = np.maximum(1, U.sum(1)); z = np.where(U, c, 0.0); sc = z.sum(1) / cnt; z = z / np.where(sc > 0, sc, 1)[:, None]
    m = np.where(keep, 1.0, 0.0)
    for _ in range(iters):
        W = (U * m).sum(1); a = np.divide(z.sum(1), W, out=np.zeros(n), where=W > 0)
        mu = U * a[:, None] * m
        Wi = np.maximum(mu.sum(1), 1e-300)
        S = np.diag(mu.sum(0)) - (mu / Wi[:, None]).T @ mu
        rhs = (z - mu).sum(0)
        idx = np.flatnonzero(keep); ref, rest = idx[0], idx[1:]
        step = np.zeros(T)
        if len(rest): step[rest] = np.linalg.solve(S[np.ix_(rest, rest)], rhs[rest])
        m = np.where(keep, m * np.exp(np.clip(step, -.5, .5)), 0.0); m = np.where(keep, m / m[keep].mean(), 0.0)
        if np.abs(step).max() < tol: break
    W = (U * m).sum(1); a = np.divide(z.sum(1), W, out=np.zeros(n), where=W > 0); mu = U * a[:, None] * m
    S = np.diag(mu.sum(0)) - (mu / np.maximum(mu.sum(1), 1e-300)[:, None]).T @ mu
    return dict(m=np.where(keep, m, np.nan), S=S, mu=mu, U=U, keep=keep, z=z)

def _solve(S, keep, C):
    """S^-1 C on the kept months, the first of them as reference."""
    out = np.zeros_like(C); idx = np.flatnonzero(keep)
    if len(idx) > 1:
        r = idx[1:]; out[r] = np.linalg.solve(S[np.ix_(r, r)], C[r])
    return out

def noise(E, ok, hmax=6):
    """Pooled variogram of relative residuals: (su2, phi, se2); A2 with N = 1."""
    g = np.zeros(hmax); k = np.zeros(hmax)
    for h in range(1, hmax + 1):
        b = ok[:, h:] & ok[:, :-h]; d = np.where(b, E[:, h:] - E[:, :-h], 0.0); g[h-1] = (d * d).sum() / 2; k[h-1] = b.sum()
    best = None; y = np.divide(g, k, out=np.zeros(hmax), where=k > 0)
    for s in range(20):
        phi = 0.05 * s; x = 1 - phi ** np.arange(1, hmax + 1)
        sw, sx, sxx, sy, sxy = k.sum(), (k*x).sum(), (k*x*x).sum(), (k*y).sum(), (k*x*y).sum()
        det = sw * sxx - sx * sx
        cand = []
        if det > 1e-12 * max(1e-300, sw * sxx):
            b = (sw * sxy - sx * sy) / det; a = (sy - b * sx) / sw
            if a >= 0 and b >= 0: cand = [(b, a)]
        if not cand: cand = [(max(0.0, sxy / sxx) if sxx > 0 else 0.0, 0.0), (0.0, max(0.0, sy / sw) if sw > 0 else 0.0)]
        for b, a in cand:
            sse = (k * (y - a - b * x) ** 2).sum()
            if best is None or sse < best[0] * (1 - 1e-12): best = (sse, b, phi, a)
    return best[1], best[2], best[3]

# ---------------------------------------------------------------- C3: baseline and saving of one enterprise
def saving_panel(kg, price, N, known, mixed, G, ration=None, ration_month=None, open_share=None, area=None, month_of_year=None, complete=None, gap_share=None, frozen=None, frozen_index=None, **kw):
    """kg[n,K,T] (whole month), price[n,K,T], N[n,T] animal-days, known[n,T], mixed[n,T] share of animal-days fed from the lot in use at the start, G[n] start month (NEVER = not started),
    ration[n,K] kg per animal-day (NaN = none), ration_month[n], area[n], complete[T] = month is over.
    Returns per farm-month numbers, and what totals() needs."""
    c = {**C2, **kw}; n, K, T = kg.shape; G = np.asarray(G); tt = np.arange(T)[None]
    complete = np.ones(T, bool) if complete is None else complete
    moy = np.arange(T) % 12 if month_of_year is None else month_of_year
    open_share = np.zeros((n, T)) if open_share is None else open_share
    known = known & complete[None]
    pref = np.array([np.median(price[:, k][known & (kg[:, k] > 0)]) if (known & (kg[:, k] > 0)).any() else 0.0 for k in range(K)])
    c0 = np.where(known, np.einsum("nkt,k->nt", kg, pref) / np.where(N > 0, N, 1), np.nan)
    U = known & (tt < G[:, None]) & ~(mixed > c["mixed_before"]) & (c0 > 0)
    Q = known & (tt > G[:, None]) & ~(mixed > c["mixed_after"])
    fit = season_index(c0, U, c["min_month"]); m = fit["m"].copy(); own = fit["m"]; src = np.where(np.isfinite(m), 0, 2); keep = fit["keep"]
    if frozen_index is not None:                           # (+) closed months keep their index, the fit is scaled to their mean
        f = np.asarray(frozen_index, float); h = np.isfinite(f); both = h & np.isfinite(m)
        if both.any(): m *= f[both].sum() / m[both].sum()
        m = np.where(h, f, m); src = np.where(h & (src == 2), 1, src); keep = np.isfinite(m)
    # earlier years for months without enough untreated farms
    for t in range(T):
        if np.isnan(m[t]):
            e = [s for s in range(T) if moy[s] == moy[t] and keep[s] and s != t]
            if e and keep.sum() >= 12: m[t] = math.exp(np.mean(np.log(m[e]))); src[t] = 1
    pairs = [math.log(own[t]) - math.log(own[t-12]) for t in range(12, T) if fit["keep"][t] and fit["keep"][t-12]]
    year_var = max(c["year_sd"] ** 2, float(np.var(pairs)) / 2) if len(pairs) >= 6 else c["year_sd"] ** 2
    B = U & (tt >= G[:, None] - c["base_window"])
    status = np.full(n, "not_started", object); adj = np.zeros(n, bool); lev = np.full(n, np.nan); w = np.zeros((n, T))
    q0 = np.full((n, K), np.nan); E = np.zeros((n, T)); okE = np.zeros((n, T), bool)
    for i in range(n):
        pre = np.flatnonzero(U[i]); b = np.flatnonzero(B[i]); q = np.flatnonzero(Q[i])
        ii = pre[np.isfinite(own[pre]) & (src[pre] == 0)]
        if len(ii) >= 2: mi, bb = own, ii
        else: mi, bb = np.ones(T), pre
        if len(bb) >= 2:
            a = c0[i, bb].sum() / mi[bb].sum(); E[i, bb] = c0[i, bb] / (a * mi[bb]) - 1; okE[i, bb] = True
        if G[i] >= NEVER: continue
        status[i] = "no_months" if len(q) == 0 else "ok"
        adj[i] = bool(np.isfinite(m[b]).all() and np.isfinite(m[q]).all() and (len(b) + len(q)) and keep.any())
        mi = m if adj[i] else np.ones(T)
        if len(b):
            x = N[i, b] * mi[b]; w[i, b] = x / x.sum(); lev[i] = (c0[i, b] * N[i, b]).sum() / x.sum(); q0[i] = kg[i][:, b].sum(1) / x.sum()
    su2, phi, se2 = noise(E, okE, c["hmax"])
    free = okE.sum() - okE.any(1).sum(); spent = max(0, fit["keep"].sum() - 1); k_ = free / (free - spent) if free > 2 * spent else 2.0
    su2 *= k_; se2 *= k_; s2all = su2 + se2; rho = su2 / s2all if s2all > 0 else 0.0
    Rm = rho * phi ** np.abs(np.subtract.outer(np.arange(T), np.arange(T))) + (1 - rho) * np.eye(T)
    # each farm's own scale, moderated
    s2 = np.full(n, s2all); df = np.full(n, c["d0"])
    for i in range(n):
        b = np.flatnonzero(okE[i])
        if len(b) >= 2:
            R = Rm[np.ix_(b, b)]; e0 = len(b) - R.sum() / len(b)
            if e0 > 1e-9:
                d = len(b) - 1; s2[i] = (c["d0"] * s2all + d * (E[i, b] ** 2).sum() / e0) / (c["d0"] + d); df[i] = c["d0"] + d
    gap_diff = 0.0
    if gap_share is not None:                              # [n,2]: share of lots found as gaps before and after the start
        s2 = s2 * (1 + c["gap_widen"] * gap_share.mean(1))  # what was found missing tells how much more may be
        if (G < NEVER).any(): gap_diff = float((gap_share[:, 1] - gap_share[:, 0])[G < NEVER].mean())
    vb = np.einsum("ns,st,nt->n", w, Rm, w)
    nb = B.sum(1); vA = np.where(nb > 0, s2 * vb, np.inf)
    # the ration stated at enrolment
    D = np.full(n, np.nan); cB = np.full(n, np.nan); mrat = np.ones(n); delta, tau2, both = 0.0, c["ration_sd"] ** 2, 0; used = np.zeros(n, bool)
    if ration is not None:
        for i in range(n):
            if not np.isfinite(ration[i]).any() or G[i] >= NEVER: continue
            t = ration_month[i]; x = m[t] if (0 <= t < T and np.isfinite(m[t]) and adj[i]) else 1.0
            mrat[i] = x; cB[i] = (np.nan_to_num(ration[i]) * pref).sum() / x
            if nb[i] >= c["min_base"] and cB[i] > 0: D[i] = math.log(cB[i] / lev[i])
        d = D[np.isfinite(D)]; both = len(d)
        if both >= c["min_ration"]:
            mid = float(np.median(d)); mad = 1.4826 * float(np.median(np.abs(d - mid)))
            fair = np.abs(d - mid) <= 3 * mad; delta = float(d[fair].mean()); used = np.isfinite(D) & (np.abs(D - mid) <= 3 * mad)
            tau2 = max(0.03 ** 2, mad ** 2 - float(np.median(vA[np.isfinite(D)]))); dse = mad / math.sqrt(fair.sum())
        else: dse = float("inf")
    else: dse = float("inf")
    wB = np.zeros(n); find = []   # weight of the ration
    for i in range(n):
        if status[i] in ("not_started",): continue
        if nb[i] >= c["min_base"]:
            if np.isfinite(D[i]):
                if both >= c["min_ration"]: wB[i] = vA[i] / (vA[i] + tau2); f = math.exp(wB[i] * (D[i] - delta)); lev[i] *= f; q0[i] *= f
                if abs(D[i]) > max(0.15, 2 * math.sqrt(vA[i])): find.append((i, float(math.exp(D[i]) - 1)))
        elif np.isfinite(cB[i]) and cB[i] > 0:
            wB[i] = 1.0; f = math.exp(-delta); lev[i] = cB[i] * f; q0[i] = np.nan_to_num(ration[i]) / mrat[i] * f; w[i] = 0
            if status[i] == "ok": status[i] = "ration_only"
        else:
            status[i] = "no_baseline"; lev[i] = np.nan
    for i, z in enumerate(frozen or []):                   # (+) the first close after the start keeps q, w, w_B, adjusted or not
        if z is None or G[i] >= NEVER: continue
        q0[i] = z["q"]; w[i] = z["w"]; wB[i] = z["w_B"]; adj[i] = z["adjusted"]; lev[i] = float((q0[i] * pref).sum())
        status[i] = "no_months" if not Q[i].any() else ("ok" if w[i].any() else "ration_only")
    finding_all = bool(both >= c["min_ration"] and abs(delta) > max(0.05, 2 * dse))
    # numbers
    mi = np.where(adj[:, None], m[None], 1.0)
    num = Q & np.isfinite(lev)[:, None] & np.isfinite(mi)
    baseM = np.where(num, N * mi * np.einsum("nkt,nk->nt", np.nan_to_num(price), np.nan_to_num(q0)), np.nan)
    act = np.where(num, (np.nan_to_num(price) * kg).sum(1), np.nan)
    sav = baseM - act
    P = dict(n=n, T=T, G=G, m=m, src=src, fit=fit, status=status, adj=adj, lev=lev, q0=q0, w0=w, used=used, wB=wB, tau2=tau2, delta=delta, dse=dse, both=both,
             s2=s2, df=df, phi=phi, rho=rho, s2all=s2all, num=num, base=baseM, act=act, sav=sav, pref=pref, c0=c0, U=U, okE=okE, E=E, find=find, finding_all=finding_all,
             D=D, nb=nb, year_var=year_var, open=open_share, area=area, moy=moy, season_var=c["season_sd"] ** 2, open_cv=c["open_cv"], N=N, gap_var=(c["gap_bias"] * gap_diff) ** 2)
    P["area_var"] = area_variance(P) if area is not None else 0.0
    # interval of each farm and month; the index's covariance from farm scores
    if fit["S"] is not None:
        sc = fit["z"] - fit["mu"]; k = max(2, int((fit["U"].any(1)).sum())); V = _solve(fit["S"], fit["keep"], _solve(fit["S"], fit["keep"], sc.T @ sc).T) * k / (k - 1)
    else: V = np.zeros((T, T))
    P["V"] = V; se = np.full((n, T), np.nan)
    for i in range(n):
        for t in np.flatnonzero(num[i]):
            x = np.zeros(T); x[t] = 1; se[i, t] = farm_se(P, i, x)
    P["se"] = se
    P["lo"] = sav - np.where(num, np.vectorize(tq)(df)[:, None] * se, np.nan); P["hi"] = 2 * sav - P["lo"]
    return P

def _ar_quad(x, rho, phi):
    """x' (rho phi^|h| + (1-rho) I) x in one pass."""
    q = float((x * x).sum()); acc = 0.0; cross = 0.0
    for v in x: cross += v * acc; acc = phi * (acc + v)
    return q + 2 * rho * cross

def farm_se(P, i, sel):
    """Standard error of the sum of a farm's months (sel: 0/1 per month)."""
    b = np.where(P["num"][i], np.nan_to_num(P["base"][i]), 0.0) * sel; tot = b.sum()
    wi = P["w0"][i] * (1 - P["wB"][i]); g = tot * wi - b
    v = P["s2"][i] * _ar_quad(g, P["rho"], P["phi"]) + tot ** 2 * P["wB"][i] ** 2 * (P["tau2"] + (P["dse"] ** 2 if np.isfinite(P["dse"]) else 0))
    v += P["area_var"] * (g * g).sum()
    v += ((np.nan_to_num(P["act"][i]) * P["open"][i] * P["open_cv"] * sel) ** 2).sum()
    x = b - tot * wi
    if P["adj"][i]:
        k = np.where(P["src"] == 0, x, 0.0); v += float(k @ P["V"] @ k)
        v += P["year_var"] * float((np.where(P["src"] == 1, x, 0.0) ** 2).sum())
    else: v += _season_var(P, x)
    return math.sqrt(v)

def _season_var(P, x):
    """Season not removed: a swing of unknown peak; months a year apart cancel."""
    z = (x * np.exp(2j * np.pi * P["moy"] / 12)).sum(); return P["season_var"] * float(abs(z) ** 2)

def area_variance(P):
    """Part of the residual variance that farms of one area share in a month (products of different farms)."""
    s = k = 0.0
    for a in np.unique(P["area"]):
        j = P["area"] == a; e = np.where(P["okE"][j], P["E"][j], 0.0); o = P["okE"][j].sum(0)
        s += (e.sum(0) ** 2 - (e * e).sum(0)).sum(); k += (o * (o - 1)).sum()
    return max(0.0, s / k) if k >= 100 else 0.0

def total(P, farms, sel):
    """Sum over farms (bool[n]) and months (0/1 per month, or [n,T]) with a number: value, baseline, standard error, rows, rows that lack one."""
    n, T = P["n"], P["T"]; sel = np.broadcast_to(np.asarray(sel, float), (n, T)) * farms[:, None]
    on = P["num"] * sel; b = np.where(P["num"], np.nan_to_num(P["base"]), 0.0) * sel; tot = b.sum(1)
    nb = P["used"].sum(); share = (tot * P["wB"]).sum() / nb * P["used"] if nb else np.zeros(n)   # delta rests on these farms' purchases
    g = (tot * (1 - P["wB"]) + share)[:, None] * P["w0"] - b                   # weight of each cell's relative noise
    a = P["adj"][:, None]; C = -np.where(a, g, 0.0).sum(0); x0 = -np.where(a, 0.0, g).sum(0); f = P["fit"]
    h = np.zeros((n, T))
    if f["S"] is not None:
        kap = _solve(f["S"], f["keep"], np.where(P["src"] == 0, C, 0.0)); mu = f["mu"]; W = np.maximum(mu.sum(1), 1e-300)
        h = mu * (kap[None] - ((mu @ kap) / W)[:, None])
    full = g + h
    v = sum(P["s2"][i] * _ar_quad(full[i], P["rho"], P["phi"]) for i in range(n) if full[i].any())
    if P["area"] is not None:
        for r in np.unique(P["area"]): v += P["area_var"] * float((full[P["area"] == r].sum(0) ** 2).sum())
    v += float(((tot * P["wB"] - share) ** 2 * P["tau2"]).sum())
    v += float(((np.nan_to_num(P["act"]) * P["open"] * P["open_cv"] * on) ** 2).sum())
    v += P["year_var"] * float((np.where(P["src"] == 1, C, 0.0) ** 2).sum()) + _season_var(P, x0)
    v += P["gap_var"] * float(tot.sum()) ** 2                                 # gaps not found, more on one side of the start
    value = float(np.where(P["num"], np.nan_to_num(P["sav"]), 0.0)[on > 0].sum()); se = math.sqrt(v)
    post = (np.arange(T)[None] > P["G"][:, None]) & (sel > 0)
    return dict(saving=value, baseline=float(tot.sum()), se=se, lower=value - 1.96 * se, upper=value + 1.96 * se, rows=int((on > 0).sum()),
                lacking=int((post & (on == 0)).sum()), farms=int((on > 0).any(1).sum()))

# ---------------------------------------------------------------- C4: money of one farm or sum, per unit, net result
def net_result(feed_saving, feed_se, fodder_cost, output=None, t=1.96):
    """Partial budget.  fodder_cost: seed, labour, water, power, repairs, depreciation (recorded, no error).
    t: quantile of the feed saving (1.96 for sums, the farm's own t for a farm).
    output: None or dict(units, price, log_effect, log_se, causal): units recorded after the start, effect of part A on the log scale."""
    s = feed_saving - fodder_cost
    r = dict(saving=s, saving_lower=s - t * feed_se, saving_upper=s + t * feed_se, added_cost=fodder_cost, reduced_cost=feed_saving,
             added_return=None, reduced_return=None, output_change=None, output_lower=None, output_upper=None, net=None, net_lower=None, net_upper=None, net_status="no_output_estimate")
    if output is None: return r
    v = output["units"] * output["price"]; f = lambda x: v * (1 - math.exp(-x))
    d, lo, hi = f(output["log_effect"]), f(output["log_effect"] - 1.96 * output["log_se"]), f(output["log_effect"] + 1.96 * output["log_se"])
    half_lo = math.hypot(t * feed_se, d - lo); half_hi = math.hypot(t * feed_se, hi - d)
    r.update(output_change=d, output_lower=lo, output_upper=hi, added_return=max(d, 0.0), reduced_return=max(-d, 0.0), net=s + d, net_lower=s + d - half_lo, net_upper=s + d + half_hi,
             net_status="causal" if output["causal"] else "association")
    return r

def per_unit(saving, fodder, units, num):
    """Saving per litre or egg of one enterprise: only months that have a number and recorded output."""
    ok = num & np.isfinite(units) & (units > 0)
    return float((np.nan_to_num(saving) - fodder)[ok].sum() / units[ok].sum()) if ok.any() else float("nan"), int(ok.sum())

def adjustments(reported, now, settle_limit):
    """reported: {(month, farm): amount or None} of closed months (earlier adjustments added), now: the same recomputed with the frozen
    baseline, index and prices of the close.  Returns lines to show and one sum of small ones."""
    lines = []; small = 0.0; n = 0
    for k in sorted(set(reported) | set(now)):
        a, b = reported.get(k), now.get(k); d = (b or 0.0) - (a or 0.0)
        if (a is None) != (b is None) or abs(d) > settle_limit: lines.append((k[0], k[1], a, b, d))
        elif d != 0: small += d; n += 1
    return dict(lines=lines, settled=small, settled_rows=n, total=sum(x[4] for x in lines) + small)

def row_status(month, start_month, is_over, is_known, mixed, lacking, held, open_only, has_level, ration_only=False):
    """Why a farm and enterprise has a number in a month or not; the first that applies.  lacking/held: names of feeds; open_only: the only
    thing missing is the next purchase of a lot in use."""
    if start_month is None or start_month > month: return "not_started"
    if not is_over: return "running"
    if start_month == month: return "start_month"
    if not has_level: return "no_baseline"
    if held: return "held"
    if open_only: return "waiting"
    if lacking or not is_known: return "missing"
    if mixed > C2["mixed_after"]: return "start_lot"
    return "ration_only" if ration_only else "estimated"

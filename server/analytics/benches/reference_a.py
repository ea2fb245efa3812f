"""Reference implementation of A (output change), version 2.
numpy / scipy.special / scipy.stats only.  Dense farm x month arrays; NaN = not observed.
Month index is an integer 0..T-1 (year*12+month-1 minus the first month).  See SPEC.md."""
import math
import numpy as np
from scipy import stats
from scipy.special import digamma, polygamma, betaln, gammaln

NEVER = 10**9  # start-month code of a member that has not started

# ---------------------------------------------------------------- A0: records -> farm-months
def farm_months(records, T, outlier_ratio=4.0):
    """records: iterable of (farm, month, output, animals, stage or None), farm in 0..n-1.
    Returns Y=ln(sum output/sum animals), N=#records used, ST=animal-weighted mean stage, dropped."""
    rec = [r for r in records]
    n = 1 + max(r[0] for r in rec)
    ok = [r for r in rec if r[3] is not None and r[3] > 0 and r[2] is not None and r[2] >= 0]
    dropped = len(rec) - len(ok)
    med = {}
    for r in ok:
        med.setdefault(r[0], []).append(r[2] / r[3])
    med = {k: float(np.median(v)) for k, v in med.items()}
    O = np.zeros((n, T)); A = np.zeros((n, T)); N = np.zeros((n, T)); S = np.zeros((n, T)); SA = np.zeros((n, T))
    for f, t, o, a, st in ok:
        q = o / a
        if med[f] > 0 and (q > outlier_ratio * med[f] or (q > 0 and q < med[f] / outlier_ratio)):
            dropped += 1; continue
        O[f, t] += o; A[f, t] += a; N[f, t] += 1
        if st is not None:
            S[f, t] += st * a; SA[f, t] += a
    with np.errstate(divide="ignore", invalid="ignore"):
        Y = np.where((N > 0) & (O > 0), np.log(O / A), np.nan)
        ST = np.where(SA > 0, S / SA, np.nan)
    N = np.where(np.isnan(Y), 0.0, N)
    return Y, N, ST, dropped

def stage_basis(ST, kind):
    """Wood-type basis: milk -> [ln d, d/100] with d=max(5,days in milk);
    eggs -> [ln a, a/10] with a=max(1, age_weeks-17).  Third column = 1 where stage is missing."""
    d = np.maximum(5.0, ST) if kind == "milk" else np.maximum(1.0, ST - 17.0)
    sc = 100.0 if kind == "milk" else 10.0
    miss = np.isnan(ST)
    x = np.stack([np.where(miss, 0.0, np.log(np.where(miss, 1.0, d))), np.where(miss, 0.0, d / sc), miss * 1.0], axis=2)
    obs = ~miss
    for k in range(2):
        if obs.any():
            x[:, :, k] = np.where(obs, x[:, :, k] - x[:, :, k][obs].mean(), 0.0)
    return x

# ---------------------------------------------------------------- A1: month effects from untreated farm-months
def _components(U):
    """largest connected set of months (union-find through farms having >=2 untreated months)."""
    T = U.shape[1]; par = list(range(T))
    def find(a):
        while par[a] != a:
            par[a] = par[par[a]]; a = par[a]
        return a
    for row in U:
        idx = np.flatnonzero(row)
        for b in idx[1:]:
            ra, rb = find(idx[0]), find(b)
            if ra != rb:
                par[max(ra, rb)] = min(ra, rb)
    root = np.array([find(a) for a in range(T)])
    cnt = U.sum(0); best, bc = None, -1
    for r in sorted(set(root[cnt > 0].tolist())):
        c = cnt[root == r].sum()
        if c > bc:
            best, bc = r, c
    return (root == best) & (cnt > 0)

def fit_untreated(Y, W, U, X=None, ridge=0.0):
    """Weighted two-way fit on U (bool, untreated & observed):  Y = alpha_i + lam_t + X b.
    alpha_i is eliminated exactly (Schur complement) -> one dense (T+p) solve."""
    n, T = Y.shape; p = 0 if X is None else X.shape[2]
    months = _components(U)
    U = U & months[None, :]
    w = np.where(U, W, 0.0); y = np.where(U, Y, 0.0)
    Wi = w.sum(1); act = Wi > 0
    q = T + p
    D = np.zeros((n, T, p)) if p == 0 else X
    # farm-demeaned design is (e_t - wbar_i, X - xbar_i)
    wn = np.divide(w, Wi[:, None], out=np.zeros_like(w), where=act[:, None])   # row weights sum 1
    ybar = (wn * y).sum(1)
    S = np.zeros((q, q)); b = np.zeros(q)
    S[:T, :T] = np.diag(w.sum(0)) - w.T @ wn
    yd = np.where(U, y - ybar[:, None], 0.0)
    b[:T] = (w * yd).sum(0)
    if p:
        xbar = np.einsum("it,itk->ik", wn, X)
        Xd = np.where(U[:, :, None], X - xbar[:, None, :], 0.0)
        S[:T, T:] = np.einsum("it,itk->tk", w, Xd); S[T:, :T] = S[:T, T:].T
        S[T:, T:] = np.einsum("it,itk,itl->kl", w, Xd, Xd)
        b[T:] = np.einsum("it,itk,it->k", w, Xd, yd)
    use = np.concatenate([months, np.ones(p, bool)])
    if months.any(): use[int(np.flatnonzero(months)[0])] = False   # reference month: lam = 0
    else: use[:] = False                            # no untreated cell at all
    for k in range(p):                              # drop a covariate with no variation
        if S[T + k, T + k] <= 1e-9 * max(1.0, w.sum()):
            use[T + k] = False
    idx = np.flatnonzero(use)
    theta = np.zeros(q); Sinv = np.zeros((q, q))
    if len(idx):
        M = S[np.ix_(idx, idx)]
        M = M + ridge * np.eye(len(idx)) * np.trace(M) / len(idx)
        Sinv[np.ix_(idx, idx)] = np.linalg.inv(M)
        theta = Sinv @ b
    lam, beta = theta[:T], theta[T:]
    fit = lam[None, :] + (X @ beta if p else 0.0)
    alpha = (wn * np.where(U, Y - fit, 0.0)).sum(1)
    res = np.where(U, Y - fit - alpha[:, None], 0.0)
    # cluster-robust (by farm) covariance of theta, factor m/(m-1)
    sc = np.zeros((n, q)); wr = w * res
    sc[:, :T] = wr - wn * wr.sum(1)[:, None]       # wr.sum(1)=0 up to rounding
    if p:
        sc[:, T:] = np.einsum("it,itk->ik", wr, Xd)
    m = int(act.sum())
    V = Sinv @ (sc.T @ sc) @ Sinv * (m / max(1, m - 1))
    return dict(lam=lam, beta=beta, V=V, Sinv=Sinv, alpha=alpha, months=months, U=U, w=w, wn=wn, Wi=Wi, res=res, fit=fit)

# ---------------------------------------------------------------- A2: pooled error model from the variogram
def error_model(res, U, N, hmax=6):
    """half squared within-farm differences: E = su2*(1-phi^h) + se2*(1/n_t+1/n_s)/2."""
    T = res.shape[1]; H = []
    for h in range(1, min(hmax, T - 1) + 1):
        m = U[:, h:] & U[:, :-h]
        if not m.any():
            continue
        d = 0.5 * (res[:, h:] - res[:, :-h])[m] ** 2
        x = 0.5 * (1.0 / N[:, h:][m] + 1.0 / N[:, :-h][m])
        H.append((h, d.size, d.sum(), (d * d).sum(), x.sum(), (x * x).sum(), (x * d).sum()))
    if not H:
        return dict(phi=0.0, su2=0.0, se2=0.0)
    best = None
    for phi in np.arange(0, 20) * 0.05:
        a11 = a12 = a22 = b1 = b2 = yy = 0.0
        for h, c, sy, syy, sx, sxx, sxy in H:
            f = 1 - phi ** h
            a11 += c * f * f; a12 += f * sx; a22 += sxx; b1 += f * sy; b2 += sxy; yy += syy
        det = a11 * a22 - a12 * a12
        cands = []
        if det > 1e-12 * a11 * a22:
            u, e = (a22 * b1 - a12 * b2) / det, (a11 * b2 - a12 * b1) / det
            if u >= 0 and e >= 0:
                cands.append((u, e))
        cands += [(max(0.0, b1 / a11), 0.0), (0.0, max(0.0, b2 / a22))]
        for u, e in cands:
            sse = yy - 2 * (u * b1 + e * b2) + u * u * a11 + 2 * u * e * a12 + e * e * a22
            if best is None or sse < best[0] - 1e-12 * abs(best[0]):
                best = (sse, phi, u, e)
    return dict(phi=float(best[1]), su2=float(best[2]), se2=float(best[3]))

# ---------------------------------------------------------------- A2: pooled error from placebo differences (variogram without a form)
def placebo_error(res, U, W, N, hmax=24, min_farms=5, Uall=None, span_power=4.0):
    """Half squared differences between untreated residuals of one farm at lag h (each is a placebo comparison);
    corrected for estimated month effects; g[h] = E minus record noise; se2 = within-lag slope on (1/N_s+1/N_t)/2.
    D = number of independent placebo windows the pool is worth."""
    n, T = res.shape; H = min(hmax, T - 1)
    w = np.where(U, W, 0.0); wa = np.where(U if Uall is None else Uall, W, 0.0); wt = wa.sum(0)
    lev = np.divide((wa * wa).sum(0), wt * wt, out=np.zeros(T), where=wt > 0)      # share of one farm in a month effect, mean
    inv = np.where(U, 1.0 / np.where(N > 0, N, 1.0), 0.0)
    u = U.sum(1); om = np.minimum(1.0, u / max(1.0, min(T, 24))) ** span_power      # farms seen long enough for every lag carry all lags alike
    S0 = np.zeros(H + 1); Sx = np.zeros(H + 1); Sd = np.zeros(H + 1); nf = np.zeros(H + 1, int); sxx = sxy = sx2 = 0.0
    for h in range(1, H + 1):
        m = U[:, h:] & U[:, :-h]
        if not m.any(): continue
        pw = np.where(m, w[:, h:] * w[:, :-h], 0.0) * om[:, None]
        cf = np.maximum(0.2, 1.0 - 0.5 * (lev[h:] + lev[:-h]))[None, :]
        d = 0.5 * (res[:, h:] - res[:, :-h]) ** 2 / cf
        x = 0.5 * (inv[:, h:] + inv[:, :-h])
        S0[h] = pw.sum(); Sx[h] = (pw * x).sum(); Sd[h] = (pw * d).sum(); nf[h] = m.any(1).sum()
        if h <= 6 and S0[h] > 0:
            sx2 += (pw * x * x).sum(); sxx += (pw * x * x).sum() - Sx[h] ** 2 / S0[h]; sxy += (pw * x * d).sum() - Sx[h] * Sd[h] / S0[h]
    se2 = max(0.0, sxy / sxx) if sxx > 1e-9 * sx2 else 0.0
    ok = [h for h in range(1, H + 1) if nf[h] >= min_farms]
    if ok:                                              # record noise cannot exceed the lag-1 difference
        x1 = Sx[ok[0]] / S0[ok[0]]
        if x1 > 0: se2 = min(se2, Sd[ok[0]] / S0[ok[0]] / x1)
    g = np.zeros(T); last = 0.0
    for h in range(1, T):
        if h <= H and nf[h] >= min_farms: last = max(0.0, (Sd[h] - se2 * Sx[h]) / S0[h])
        g[h] = last
    D = float((om * np.clip((u - 6) / 18.0, 0.0, None)).sum())
    return dict(g=g, se2=float(se2), D=D, n_farms=nf, S0=S0, Sx=Sx, Sd=Sd)

def area_shock(res, U, area, prior, hmax=12, phi=0.8):
    """semivariogram shared by farms of one area: within-area minus cross-area products of differences, read as AR(1)
    with month correlation 0.8; moderated to `prior` with 2 df (few areas say little about their own shocks)."""
    n, T = res.shape; ar = np.unique(area, return_inverse=True)[1]; C = ar.max() + 1
    one = np.zeros((C, n)); one[ar, np.arange(n)] = 1.0
    H = min(hmax, T - 1); y = np.zeros(H + 1); c = np.zeros(H + 1)
    for h in range(1, H + 1):
        m = (U[:, h:] & U[:, :-h]) * 1.0; d = (res[:, h:] - res[:, :-h]) * m
        Da, Qa, na = one @ d, one @ (d * d), one @ m
        wi, cw = (Da ** 2 - Qa).sum(0), (na * (na - 1)).sum(0)
        al, ca = Da.sum(0) ** 2 - Qa.sum(0), na.sum(0) * (na.sum(0) - 1)
        k = (cw > 0) & (ca - cw > 0)
        if not k.any(): continue
        y[h] = 0.5 * (wi[k].sum() / cw[k].sum() - (al - wi)[k].sum() / (ca - cw)[k].sum()); c[h] = cw[k].sum()
    areas3 = int((((one @ (U.sum(1) > 0)) >= 3)).sum()); Tu = int((U.sum(0) > 0).sum())
    if areas3 < 2 or c.sum() == 0: return dict(su2=0.0, phi=0.0, basis="none", areas=areas3, df=0.0)
    f = 1 - phi ** np.arange(H + 1); f[0] = 0.0
    s = max(0.0, (c * f * y).sum() / (c * f * f).sum()); df = max(1.0, (areas3 - 1) * Tu * (1 - phi ** 2) / (1 + phi ** 2) / 2)
    return dict(su2=float((df * s + 2.0 * prior) / (df + 2.0)), phi=phi, basis="area_months", areas=areas3, df=df, raw=float(s))

def trigamma_inv(x):
    if x > 1e7: return 1 / math.sqrt(x)
    if x < 1e-6: return 1 / x
    y = 0.5 + 1 / x
    for _ in range(50):
        tri = float(polygamma(1, y)); d = tri * (1 - tri / x) / float(polygamma(2, y)); y += d
        if -d / y < 1e-8: break
    return y

def moderate(s2, df):
    """Smyth (2004) prior (d0, s02) for scale ratios s2 with df; uses rows with df>=1 and s2>0."""
    k = (df >= 1) & (s2 > 0)
    if k.sum() < 5:
        return 1000.0, 1.0
    z = np.log(s2[k]) - digamma(df[k] / 2) + np.log(df[k] / 2)
    ev = ((z - z.mean()) ** 2).sum() / (k.sum() - 1) - polygamma(1, df[k] / 2).mean()
    if ev <= 0:
        return 1000.0, float(np.exp(z.mean()))
    d0 = min(1000.0, max(1.0, 2 * trigamma_inv(float(ev))))
    return float(d0), float(np.exp(z.mean() + digamma(d0 / 2) - math.log(d0 / 2)))

# ---------------------------------------------------------------- A3: per-member effects + EB
DEFAULT_A = dict(kappa=4.0, skip_transition=True, pre_window=12, post_window=12, min_pre=3, min_post=2,
                 min_pre_records=6, min_post_records=4, min_controls=5, min_members_eb=8, hmax=24, min_windows=8.0, shape_d0=20.0, shape_max=0.85, span_power=4.0,
                 told=0.05, keep_told=0.08, shift_z=3.6, shift_min=0.30, dip_z=2.0, dip_min=0.01, dip_months=3)

def eb_grid(t, v, J=40, scale_sd=0.0):
    """theta_i ~ N(mu, A), t_i ~ N(theta_i, k v_i); flat prior on mu and A; ln k ~ N(0, scale_sd^2) on 5 nodes.
    Grid A_j = Amax*(j/J)^3, Amax = 4*max(sample var(t), min v), trapezoid; restricted likelihood.
    Returns mean, sd, P(theta<=0), E A, E mu, sd mu, E k."""
    n = len(t); Amax = 4.0 * max(float(t.var(ddof=1)), float(v.min()))
    gA = Amax * (np.arange(J + 1) / J) ** 3; d = np.diff(gA); tz = np.zeros(J + 1); tz[:-1] += d / 2; tz[1:] += d / 2
    zs = np.array([-1.6, -0.8, 0.0, 0.8, 1.6]) if scale_sd > 1e-9 else np.array([0.0])
    cell = []
    for z in zs:
        k = math.exp(z * scale_sd)
        for j in range(J + 1):
            w = 1 / (k * v + gA[j]); sw = w.sum(); mu = (w * t).sum() / sw
            ll = 0.5 * np.log(w).sum() - 0.5 * math.log(sw) - 0.5 * (w * (t - mu) ** 2).sum() - 0.5 * z * z
            cell.append((ll, tz[j], gA[j], k, mu, 1 / sw))
    ll = np.array([c[0] for c in cell]); pw = np.exp(ll - ll.max()) * np.array([c[1] for c in cell]); pw /= pw.sum()
    m1 = np.zeros(n); m2 = np.zeros(n)
    for p, (_, _, A, k, mu, vm) in zip(pw, cell):
        if p < 1e-12: continue
        kv = k * v; B = kv / (kv + A); m = mu + (1 - B) * (t - mu)
        m1 += p * m; m2 += p * ((1 - B) * kv + B * B * vm + m * m)
    E = lambda i: float(sum(p * c[i] for p, c in zip(pw, cell)))
    mu = E(4); vmu = float(sum(p * (c[5] + c[4] ** 2) for p, c in zip(pw, cell))) - mu * mu
    return m1, np.sqrt(np.maximum(0.0, m2 - m1 * m1)), E(2), mu, math.sqrt(max(0.0, vmu)), E(3)

def fill_stage(ST, maxgap=2):
    """linear interpolation between observed months when both are within maxgap months; else carry the one within maxgap."""
    S = ST.copy(); n, T = ST.shape
    for i in range(n):
        o = np.flatnonzero(~np.isnan(ST[i]))
        for t in np.flatnonzero(np.isnan(ST[i])):
            p, q = o[o < t], o[o > t]
            a = p[-1] if len(p) and t - p[-1] <= maxgap else None; b = q[0] if len(q) and q[0] - t <= maxgap else None
            if a is not None and b is not None: S[i, t] = ST[i, a] + (ST[i, b] - ST[i, a]) * (t - a) / (b - a)
            elif a is not None: S[i, t] = ST[i, a]
            elif b is not None: S[i, t] = ST[i, b]
    return S

def _core(Y, N, G, X, area, c):
    n, T = Y.shape; G = np.asarray(G); tt = np.arange(T)[None, :]
    obs = ~np.isnan(Y) & (N > 0); Nn = np.where(obs, N, 0.0)
    W = np.where(obs, Nn / (Nn + c["kappa"]), 0.0)
    pre = obs & (tt < G[:, None])
    f = fit_untreated(Y, W, pre, X)
    pe = placebo_error(f["res"], f["U"], W, Nn, c["hmax"], c["min_controls"], None, c["span_power"])
    grp = np.zeros(n, int); pes = [pe, pe]                        # farms without a recorded stage keep their cycle in the residual: own pool
    if X is not None:
        grp = ((np.where(obs, X[:, :, 2], 0.0).sum(1)) > 0.5 * obs.sum(1)).astype(int)
        pg = [placebo_error(f["res"], f["U"] & (grp == q)[:, None], W, Nn, c["hmax"], c["min_controls"], f["U"], c["span_power"]) for q in (0, 1)]
        pes = []
        for q in pg:                                              # own shape with >= 20 windows, else the pooled shape times a moderated ratio
            if q["D"] >= 20: pes.append(q); continue
            den = (q["S0"] * (pe["g"][:len(q["S0"])]) + q["Sx"] * pe["se2"]).sum(); ra = q["Sd"].sum() / den if den > 0 else 1.0
            kr = (q["D"] * ra + 2.0) / (q["D"] + 2.0); pes.append({**q, "g": pe["g"] * kr, "se2": pe["se2"] * kr})
    em = error_model(f["res"], f["U"], np.where(obs, Nn, 1.0), 6)
    basis = "placebo" if pe["D"] >= c["min_windows"] and pe["g"].any() else "model"
    gm = em["su2"] * (1 - em["phi"] ** np.arange(T))
    lag = np.abs(np.arange(T)[:, None] - np.arange(T)[None, :])
    ncontrol = f["U"].sum(0); good = f["months"] & (ncontrol >= c["min_controls"])
    k = 1 if c["skip_transition"] else 0
    pw, qw = c["pre_window"] or 10**8, c["post_window"] or 10**8
    P = f["U"] & good & (tt >= G[:, None] - pw)
    Q_any = obs & (tt >= G[:, None] + k) & (tt < G[:, None] + k + qw); Q = Q_any & good
    R = np.where(obs, Y - f["fit"], 0.0)
    sm = lambda M: (np.where(M, Nn, 0.0)).sum(1)
    status = np.full(n, "estimated", dtype=object)                # first that applies wins: assign in reverse order
    status[(Q.sum(1) < c["min_post"]) | (sm(Q) < c["min_post_records"])] = "no_controls"
    status[(Q_any.sum(1) < c["min_post"]) | (sm(Q_any) < c["min_post_records"])] = "insufficient_post"
    status[(P.sum(1) < c["min_pre"]) | (sm(P) < c["min_pre_records"])] = "insufficient_pre"
    status[~pre.any(1)] = "no_pre_data"
    status[(G + k > T - 1) & ~Q_any.any(1)] = "insufficient_post"
    status[G >= NEVER] = "not_started"
    est = status == "estimated"
    wP, wQ = np.where(P, W, 0.0), np.where(Q, W, 0.0)
    nz = lambda M: np.divide(M, M.sum(1)[:, None], out=np.zeros_like(M), where=M.sum(1)[:, None] > 0)
    a = np.where(est[:, None], nz(wQ) - nz(wP), 0.0)
    tau = np.where(est, (a * R).sum(1), np.nan)
    inv = np.where(obs, 1.0 / np.maximum(Nn, 1.0), 0.0)
    def quad(M):                                                  # M rows sum to 0: M' Sigma M, conditionally negative-definite variogram
        e = np.zeros(n); xn = (M * M * inv).sum(1)
        for q in (0, 1):
            z = grp == q; w = pes[q]; g1 = w["g"][1] if T > 1 else 0.0
            e[z] = np.maximum(xn[z] * w["se2"] - ((M[z] @ w["g"][lag]) * M[z]).sum(1), xn[z] * w["se2"] + 0.25 * g1 * (M[z] ** 2).sum(1))
        if basis == "model": e = np.maximum(e, (M * M * inv).sum(1) * em["se2"] - ((M @ gm[lag]) * M).sum(1))
        return e
    v0 = np.where(est, quad(a), np.nan)
    if basis == "placebo" and est.any():                          # shape moderated towards the AR(1) model, level kept
        vm = (a * a * inv).sum(1) * em["se2"] - ((a @ gm[lag]) * a).sum(1); om = c["shape_max"] * pe["D"] / (pe["D"] + c["shape_d0"])
        for q in (0, 1):
            z = est & (grp == q)
            if z.any() and vm[z].sum() > 0: v0[z] = om * v0[z] + (1 - om) * vm[z] * v0[z].sum() / vm[z].sum()
    ga = a if X is None else np.concatenate([a, np.einsum("it,itk->ik", a, X)], 1)
    vlam = np.where(est, ((ga @ f["V"]) * ga).sum(1), np.nan)
    # own scale: weighted within-phase sum of squares over its expectation; df by Satterthwaite under the pooled Sigma
    up = (lambda w: w["g"]) if basis == "placebo" else (lambda w: np.maximum(w["g"], gm))
    Sg = np.stack([-up(w)[lag] for w in pes]); se2 = np.array([w["se2"] if basis == "placebo" else max(w["se2"], em["se2"]) for w in pes])[grp][:, None]
    ss = np.zeros(n); e0 = np.zeros(n); B = np.zeros((n, T, T))
    for M in (wP, wQ):
        mm = nz(M); mean = (mm * R).sum(1); ss += (M * (R - mean[:, None]) ** 2).sum(1)
        Si = Sg[grp]; row = M[:, :, None] * Si; row[:, np.arange(T), np.arange(T)] += M * inv * se2
        B += row - M[:, :, None] * (np.einsum("it,its->is", mm, Si) + mm * inv * se2)[:, None, :]
    e0 = np.trace(B, axis1=1, axis2=2); bb = np.einsum("ist,its->i", B, B)
    s2 = np.where(est & (e0 > 1e-12), ss / np.where(e0 > 1e-12, e0, 1.0), 0.0)
    df = np.where(est, np.clip(np.divide(e0 ** 2, bb, out=np.ones(n), where=bb > 0), 0.0, P.sum(1) + Q.sum(1) - 2.0), 0.0)
    return dict(status=status, est=est, tau=tau, v0=v0, vlam=vlam, s2=s2, df=df, a=a, ga=ga, fit=f, pe=pe, pes=pes, grp=grp, em=em, basis=basis, months_ok=good, n_controls=ncontrol,
                W=W, P=P, Q=Q, R=R, obs=obs, quad=quad, inv=inv, Nn=Nn, Q_any=Q_any)

def level_scan(r, G, c, win=4):
    """abrupt, lasting change of level in a farm's residuals (unit changed, half the milkings, other group counted): at every
    month s the mean of up to `win` observed months from s on against the last `win` before; month G never used and the
    group's median effect taken off afterwards. Returns z, shift and month of the largest |z| per farm."""
    n, T = r["R"].shape; G = np.asarray(G); tt = np.arange(T)[None, :]
    ok = r["obs"] & r["fit"]["months"][None, :] & (tt != G[:, None])
    # month effects that a third of changed farms cannot move: running sum of median steps (both months observed, neither G)
    Z = np.where(r["obs"], r["R"] + r["fit"]["lam"][None, :], 0.0); lam = np.zeros(T)
    for t in range(1, T):
        k = ok[:, t] & ok[:, t - 1] & ~((G > t - 2) & (G < t + 1))
        lam[t] = lam[t - 1] + (float(np.median(Z[k, t] - Z[k, t - 1])) if k.sum() >= 5 else r["fit"]["lam"][t] - r["fit"]["lam"][t - 1])
    R = np.where(r["obs"], Z - lam[None, :], 0.0)
    # nor can they hide behind their own spread: pool level capped at 1.5 x the median half square over .4549
    U = r["fit"]["U"]; num = den = 0.0
    for h in range(1, min(10, T)):
        k = U[:, h:] & U[:, :-h]
        if k.sum() >= 20: d2 = 0.5 * (R[:, h:] - R[:, :-h])[k] ** 2; num += 1.5 * float(np.median(d2)) / 0.4549; den += float(d2.mean())
    cap = min(1.0, num / den) if den > 0 else 1.0
    est = r["est"]; ts = (r["a"] * R).sum(1); med = float(np.median(ts[est])) if est.any() else 0.0
    R = np.where(tt > G[:, None], R - med, R)
    Ar = 0.0
    if est.sum() >= 5:
        Ar = max(0.0, (1.4826 * float(np.median(np.abs(ts[est] - med)))) ** 2 - cap * float(np.median(r["v0"][est])))
    # own scale that one jump cannot move: median squared step over its expectation (0.4549 = median of chi2_1), 8 prior steps at 1, never below 1
    own = np.ones(n); pr = ok[:, 1:] & ok[:, :-1]
    for i in np.flatnonzero(pr.sum(1) >= 4):
        k = np.flatnonzero(pr[i]); z = r["pes"][r["grp"][i]]; x = 0.5 * (r["inv"][i, k] + r["inv"][i, k + 1])
        e = cap * (z["g"][1] + z["se2"] * x); q = float(np.median(0.5 * (R[i, k + 1] - R[i, k]) ** 2 / np.maximum(e, 1e-12))) / 0.4549
        own[i] = max(1.0, (8.0 + len(k) * q) / (8.0 + len(k)))
    bz = np.zeros(n); bs = np.zeros(n); bm = np.full(n, -1)
    for s in range(3, T - 2):
        lo = ok[:, max(0, s - win - 1):s]; hi = ok[:, s:s + win + 1]
        # last/first win observed months inside win+1 calendar months
        Lw = np.zeros((n, T)); Hw = np.zeros((n, T))
        cl = np.cumsum(lo[:, ::-1], 1)[:, ::-1]; ch = np.cumsum(hi, 1)
        Lw[:, max(0, s - win - 1):s] = lo & (cl <= win); Hw[:, s:s + win + 1] = hi & (ch <= win)
        k = (Lw.sum(1) >= 3) & (Hw.sum(1) >= 3) & ok[:, s]
        if not k.any(): continue
        M = Hw * r["W"] / np.maximum(1e-300, (Hw * r["W"]).sum(1))[:, None] - Lw * r["W"] / np.maximum(1e-300, (Lw * r["W"]).sum(1))[:, None]
        M = np.where(k[:, None], M, 0.0); sh = (M * R).sum(1); cross = (s > G) & (Lw[:, :] @ (np.arange(T)) / np.maximum(1, Lw.sum(1)) < G)
        z = np.divide(sh, np.sqrt(np.maximum(cap * own * r["quad"](M) + np.where(cross, Ar, 0.0), 1e-12)), out=np.zeros(n), where=k)
        u = k & (np.abs(z) > np.abs(bz)) & (np.abs(sh) >= c["shift_min"])
        bz[u], bs[u], bm[u] = z[u], sh[u], s
    d = np.where(est, ts - med, 0.0); z = np.where(est, d / np.sqrt(np.where(est, np.maximum(cap * (own * r["v0"] + r["vlam"]) + Ar, 1e-12), 1.0)), 0.0)     # the member's own contrast: a change at the start
    u = est & (np.abs(z) > np.abs(bz)) & (np.abs(d) >= c["shift_min"]); bz[u], bs[u] = z[u], d[u]; bm = np.where(u, G, bm)
    return bz, bs, bm

def low_start(r, G, c):
    """mean over estimated farms of (months G-2, G-1) minus (months up to G-4): below zero = started at a low point."""
    T = r["R"].shape[1]; tt = np.arange(T)[None, :]; G = np.asarray(G)[:, None]
    A, B = r["P"] & (tt >= G - 2), r["P"] & (tt < G - c["dip_months"])
    k = r["est"] & A.any(1) & (B.sum(1) >= 2)
    if k.sum() < 5: return dict(n=int(k.sum()), dip=None, se=None, z=None, flag="not_checked")
    wm = lambda M: (np.where(M, r["W"], 0) * r["R"]).sum(1)[k] / np.where(M, r["W"], 0).sum(1)[k]
    x = wm(A) - wm(B); m, se = float(x.mean()), float(x.std(ddof=1) / math.sqrt(k.sum()))
    z = m / se if se > 0 else 0.0
    fl = "low" if z < -c["dip_z"] and m < -c["dip_min"] else "high" if z > c["dip_z"] and m > c["dip_min"] else "none"
    return dict(n=int(k.sum()), dip=m, se=se, z=z, flag=fl)

def _programme(Y, G, X, area, r):
    """headline: imputation average; variance = farm scores + covariance through area x month shocks; t with Satterthwaite df."""
    n, T = Y.shape; est, f, pe = r["est"], r["fit"], r["pe"]
    a = att_imputation(np.where(r["obs"], Y, np.nan), r["W"], G, r["Q"] & est[:, None], X=X, aux="horizon", fit=f)
    sh = area_shock(f["res"], f["U"], area, 0.15 * float(pe["g"][min(12, T - 1)])) if len(np.unique(area)) > 1 else dict(su2=0.0, phi=0.0, basis="none", areas=1, df=0.0)
    va = 0.0
    if sh["su2"] > 0:
        Gm = sh["su2"] * (1 - sh["phi"] ** np.abs(np.arange(T)[:, None] - np.arange(T)[None, :])); L = a["L"]
        ar = np.unique(area, return_inverse=True)[1]; b = np.zeros((ar.max() + 1, T)); np.add.at(b, ar, L)
        va = max(0.0, float(-((b @ Gm) * b).sum() + ((L @ Gm) * L).sum()))
    v1 = a["se"] ** 2; p4 = (a["psi"] ** 4).sum(); df1 = max(2.0, 3 * v1 ** 2 / p4 - 2) if p4 > 0 else 2.0
    dfp = min(1000.0, (v1 + va) ** 2 / (v1 ** 2 / df1 + (va ** 2 / sh["df"] if va > 0 else 0.0))) if v1 + va > 0 else df1
    sep = math.sqrt(v1 + va); tq = float(stats.t.ppf(0.975, dfp))
    prog = dict(att=float(a["att"]), se=sep, df=float(dfp), lo=float(a["att"] - tq * sep), hi=float(a["att"] + tq * sep), n_farms=a["n_farms"], n_cells=a["n_cells"], area_share=va / (v1 + va) if v1 + va > 0 else 0.0,
                area_basis=sh["basis"], area_su2=sh["su2"], area_phi=sh["phi"], d1=df1)
    return prog, va

def member_effects(Y, N, G, X=None, area=None, accepted=None, previous=None, **kw):
    c = {**DEFAULT_A, **kw}; Y = np.array(Y, float); n, T = Y.shape; G = np.asarray(G); N = np.asarray(N, float); tt = np.arange(T)[None, :]
    area = np.zeros(n, int) if area is None else np.asarray(area); accepted = np.zeros(n, bool) if accepted is None else np.asarray(accepted, bool)
    r = _core(Y, N, G, X, area, c)
    sz, ss, sm = level_scan(r, G, c); held = (np.abs(sz) >= c["shift_z"]) & ~accepted
    Yk = np.where(held[:, None], np.nan, Y)
    if held.any(): r = _core(Yk, N, G, X, area, c)
    dip = low_start(r, G, c)
    if dip["flag"] != "none" and dip["flag"] != "not_checked":                  # leave the months just before the start out of every comparison
        cut = (tt >= G[:, None] - c["dip_months"]) & (tt < G[:, None])
        r = _core(np.where(cut, np.nan, Yk), N, G, X, area, c)
    st, est, tau, v0, vlam, s2, df, f, pe = (r[k] for k in ("status", "est", "tau", "v0", "vlam", "s2", "df", "fit", "pe"))
    st[held] = "check_level"
    d0, s02 = moderate(s2[est], df[est]) if est.any() else (1000.0, 1.0)
    s2t = (d0 * s02 + df * s2) / (d0 + df)
    if est.any(): s2t = s2t * (float(v0[est].sum() / (s2t * v0)[est].sum()) if (s2t * v0)[est].sum() > 0 else 1.0)  # the placebo level is kept on average
    D = max(pe["D"], 1.0); dft = np.minimum(1.0 / (1.0 / (d0 + df + 1e-300) + 1.0 / (3 * D)), 1000.0)
    vc0 = 0.0
    if est.any():                                                 # error all members share: robust (farm scores) or pooled model, the larger
        gb = r["ga"][est].mean(0); vr = float(gb @ f["V"] @ gb); kp = f["Sinv"] @ gb
        h = kp[None, :T] + (X @ kp[T:] if X is not None else 0.0); M = f["w"] * (h - (f["wn"] * h).sum(1)[:, None])
        vc0 = max(vr, float(r["quad"](M).sum())); vlam = vlam * (vc0 / vr if vr > 0 else 1.0)
    prog, va = _programme(Y, G, X, area, r) if est.any() else (None, 0.0); vp = va
    if prog is not None and prog["area_share"] > 0.5:             # start mixed up with area: the own area's shocks are not in the pool either
        lagT = np.abs(np.arange(T)[:, None] - np.arange(T)[None, :]); Gm = prog["area_su2"] * (1 - prog["area_phi"] ** lagT)
        va = va + np.maximum(0.0, -((r["a"] @ Gm) * r["a"]).sum(1)) * max(0.0, 1.0 / max(1, len(np.unique(area[r["fit"]["U"][:, np.flatnonzero(r["months_ok"])[-1]]]))) - 1.0 / len(np.unique(area[est])))
    va = np.broadcast_to(va, (n,)).astype(float)
    v = np.maximum(s2t * v0 + vlam + va, 1e-12); se = np.sqrt(v); tc = stats.t.ppf(0.975, dft)
    out = dict(status=st, tau=tau, se=se, df=np.where(est, dft, np.nan), lo=tau - tc * se, hi=tau + tc * se, v0=v0, vlam=vlam, s2=s2, n_pre=r["P"].sum(1), n_post=r["Q"].sum(1), months_ok=r["months_ok"],
               n_controls=r["n_controls"], fit=f, err=r["em"], placebo=pe, basis=r["basis"], d0=d0, s02=s02, W=r["W"], Q=r["Q"], P=r["P"], held=held, shift_z=sz, shift=ss, shift_month=sm, dip=dip, core=r)
    eb = np.full(n, np.nan); ebse = np.full(n, np.nan)
    if est.any():
        out["v_common"] = vc0 + vp
        if est.sum() >= c["min_members_eb"]:
            sc = min(0.5, math.sqrt(2.0 / D)); vi = np.maximum(s2t * v0 + np.maximum(0.0, vlam - vc0), 1e-10)
            m, s, out["A"], out["mu"], ms, out["kscale"] = eb_grid(tau[est], vi[est], scale_sd=sc)
            eb[est] = m; ebse[est] = np.sqrt(np.maximum(s ** 2 + vc0 + va[est], 1e-12)); out["mu_se"] = math.sqrt(ms ** 2 + vc0 + vp)
    out.update(eb=eb, eb_se=ebse, eb_lo=eb - tc * ebse, eb_hi=eb + tc * ebse, programme=prog)
    x = np.where(np.isnan(eb), tau, eb); s = np.where(np.isnan(eb), se, ebse)
    with np.errstate(all="ignore"): pl = np.where(est, stats.t.cdf(-x / s, dft), np.nan)      # P(effect <= 0)
    out["p_lower"] = pl; out["lfsr"] = np.minimum(pl, 1 - pl)
    told = c["told"] if prog is None or prog["area_share"] <= 0.5 else min(c["told"], 0.01)   # start mixed up with area: much stronger proof asked
    if prog is not None: prog["pre_start"] = dip["flag"]
    pv = np.full(n, "", dtype=object) if previous is None else np.asarray(previous, dtype=object)
    lim = lambda w: np.where(pv == w, max(told, c["keep_told"] if told == c["told"] else told), told)
    out["verdict"] = np.where(~est, "", np.where(pl <= lim("increase"), "increase", np.where(1 - pl <= lim("decrease"), "decrease", "unclear")))
    pct = lambda z: 100 * (np.exp(z) - 1)
    for nm in ("tau", "lo", "hi", "eb", "eb_lo", "eb_hi"): out["pct_" + nm] = pct(out[nm])
    order = np.argsort(np.where(np.isnan(eb), np.inf, -eb), kind="stable"); rank = np.zeros(n, int); q = 1
    for i in order:
        if not np.isnan(eb[i]): rank[i] = q; q += 1
    out["rank"] = rank
    return out

# ---------------------------------------------------------------- A4: programme effect, imputation estimator
def att_imputation(Y, W, G, cell, X=None, farm_equal=True, aux="horizon", fit=None, small_sample=False):
    """cell: bool n x T, the treated farm-months averaged.  farm_equal: each farm weight 1/F, months ~ W inside.
    otherwise weights ~ W over all cells.  aux: 'horizon' | 'cohort_horizon' | 'all'.
    SE: BJS conservative cluster formula  sum_i (sum_t v_it e_it)^2."""
    n, T = Y.shape; obs = ~np.isnan(Y) & (W > 0)
    U = obs & (np.arange(T)[None, :] < np.asarray(G)[:, None])
    f = fit or fit_untreated(Y, W, U, X)
    p = 0 if X is None else X.shape[2]
    C = cell & obs & f["months"][None, :] & (f["Wi"] > 0)[:, None]
    wt = np.where(C, W, 0.0)
    if farm_equal:
        rs = wt.sum(1); F = (rs > 0).sum()
        wt = np.divide(wt, rs[:, None], out=np.zeros_like(wt), where=rs[:, None] > 0) / F
    else:
        wt = wt / wt.sum()
    tau = np.where(C, Y - f["alpha"][:, None] - f["fit"], 0.0)
    est = (wt * tau).sum()
    om = wt.sum(1)                                       # farm total weight
    cvec = np.zeros(T + p)
    cvec[:T] = wt.sum(0) - (om[:, None] * f["wn"]).sum(0)
    if p:
        xbar = np.einsum("it,itk->ik", f["wn"], X)
        cvec[T:] = np.einsum("it,itk->k", wt, X) - (om[:, None] * xbar).sum(0)
    kap = f["Sinv"] @ cvec
    h = kap[:T][None, :] + (X @ kap[T:] if p else 0.0)
    hbar = (f["wn"] * h).sum(1)
    vU = -f["w"] * (h - hbar[:, None]) - om[:, None] * f["wn"]   # weights on untreated cells
    # auxiliary means
    e = np.arange(T)[None, :] - np.asarray(G)[:, None]
    tb = np.zeros_like(tau)
    keys = {"all": np.zeros_like(e), "horizon": e, "cohort_horizon": e + 10**6 * np.asarray(G)[:, None]}[aux]
    kk = keys[C]; tv = tau[C]; w2 = wt[C] ** 2 if not farm_equal else wt[C]
    _, inv = np.unique(kk, return_inverse=True)
    num = np.bincount(inv, w2 * tv); den = np.bincount(inv, w2)
    tb[C] = (num / den)[inv]
    psi = (wt * np.where(C, tau - tb, 0.0)).sum(1) + (vU * f["res"]).sum(1)
    return dict(att=est, se=math.sqrt((psi ** 2).sum()), psi=psi, L=wt + vU, n_farms=int((om > 0).sum()), n_cells=int(C.sum()))

# ---------------------------------------------------------------- A5: Callaway-Sant'Anna, not-yet-treated, no covariates
def att_gt(Y, G, control="notyet", min_treated=1):
    n, T = Y.shape; G = np.asarray(G); gs = sorted(int(g) for g in set(G.tolist()) if 0 < g < T)
    cells = []; IF = []
    for g in gs:
        D = G == g
        for t in range(1, T):
            b = g - 1 if t >= g else t - 1
            Cn = (G > max(t, b)) & ~D if control == "notyet" else G >= NEVER
            ok = ~np.isnan(Y[:, t]) & ~np.isnan(Y[:, b])
            d, k = D & ok, Cn & ok
            nd, nk = d.sum(), k.sum()
            if nd < min_treated or nk < 1: continue
            dy = Y[:, t] - Y[:, b]; md, mk = dy[d].mean(), dy[k].mean()
            inf = np.zeros(n); inf[d] = n / nd * (dy[d] - md); inf[k] = -n / nk * (dy[k] - mk)
            cells.append((g, t, md - mk, math.sqrt((inf ** 2).sum()) / n)); IF.append(inf)
    return cells, np.array(IF)

def aggte(cells, IF, G, T, min_e=0, kind="simple"):
    n = IF.shape[1]; G = np.asarray(G)
    g = np.array([c[0] for c in cells]); t = np.array([c[1] for c in cells]); att = np.array([c[2] for c in cells])
    pg = np.array([(G == x).mean() for x in g])
    def agg(k):
        w = pg[k] / pg[k].sum(); ind = (G[:, None] == g[k][None, :]) - pg[k][None, :]
        wif = ind / pg[k].sum() - ind.sum(1)[:, None] * pg[k][None, :] / pg[k].sum() ** 2
        inf = IF[k].T @ w + wif @ att[k]
        return w @ att[k], inf
    sd = lambda x: math.sqrt((x ** 2).sum()) / n
    if kind == "simple":
        a, i = agg(np.flatnonzero(t - g >= min_e)); return dict(att=a, se=sd(i))
    if kind == "dynamic":
        es = sorted(set((t - g).tolist())); r = [(e,) + agg(np.flatnonzero(t - g == e)) for e in es]
        post = [x for x in r if x[0] >= min_e]
        return dict(by_e=[(e, a, sd(i)) for e, a, i in r], att=float(np.mean([x[1] for x in post])),
                    se=sd(np.mean([x[2] for x in post], axis=0)))
    if kind == "group":
        r = []
        for x in sorted(set(g.tolist())):
            k = np.flatnonzero((g == x) & (t - g >= min_e))
            if len(k): r.append((x, att[k].mean(), IF[k].mean(0), (G == x).mean()))
        P = np.array([z[3] for z in r]); w = P / P.sum(); av = np.array([z[1] for z in r])
        ind = np.stack([(G == z[0]) for z in r], 1) - P[None, :]
        wif = ind / P.sum() - ind.sum(1)[:, None] * P[None, :] / P.sum() ** 2
        inf = np.stack([z[2] for z in r], 1) @ w + wif @ av
        return dict(by_g=[(z[0], z[1], sd(z[2])) for z in r], att=float(w @ av), se=sd(inf))

# ---------------------------------------------------------------- A0b: records kept as sums by half-octave of the rate
def half_octave(rate):
    """bin of a record: floor(2*log2(output/animals)), clamped to -20..19; zero output -> -21 (kept with N, adds 0)."""
    return -21 if rate <= 0 else int(min(19, max(-20, math.floor(2 * math.log2(rate)))))

def cells_from_bins(bins, T, reach=4):
    """bins: dict (farm, month) -> {b: [records, output, animals, stage*animals, animals with stage]} (additive, so a record can be taken out again).
    Farm reference = interpolated median of log2 rate over all its records with rate > 0; a bin is left out when its centre is more than `reach`
    half octaves (factor 4) away. A farm-month whose records would be left out for > half is NOT cut (a changed unit, not a slip): it is kept and named in `shifted`."""
    n = 1 + max(f for f, _ in bins); O = np.zeros((n, T)); A = O.copy(); N = O.copy(); S = O.copy(); SA = O.copy(); left = np.zeros((n, T), int); shifted = np.zeros((n, T), bool)
    tot = [dict() for _ in range(n)]
    for (f, t), d in bins.items():
        for b, v in d.items():
            if b > -21: tot[f][b] = tot[f].get(b, 0) + v[0]
    ref = np.full(n, np.nan)
    for f in range(n):
        k = sorted(tot[f]); m = sum(tot[f].values()); c = 0.0
        for b in k:
            if c + tot[f][b] >= m / 2: ref[f] = b + (m / 2 - c) / tot[f][b]; break
            c += tot[f][b]
    for (f, t), d in bins.items():
        far = [b for b in d if b > -21 and abs(b + 0.5 - ref[f]) > reach]; nn = sum(v[0] for v in d.values()); nf = sum(d[b][0] for b in far)
        if nf * 2 > nn: shifted[f, t] = True; far = []
        left[f, t] = sum(d[b][0] for b in far)
        for b, v in d.items():
            if b in far: continue
            N[f, t] += v[0]; O[f, t] += v[1]; A[f, t] += v[2]; S[f, t] += v[3]; SA[f, t] += v[4]
    with np.errstate(divide="ignore", invalid="ignore"):
        Y = np.where((N > 0) & (O > 0), np.log(O / A), np.nan); ST = np.where(SA > 0, S / SA, np.nan)
    return Y, np.where(np.isnan(Y), 0.0, N), ST, left, shifted, ref

def bins_of_records(records):
    bins = {}; bad = 0
    for f, t, o, a, st in records:
        if a is None or a <= 0 or o is None or o < 0: bad += 1; continue
        v = bins.setdefault((f, t), {}).setdefault(half_octave(o / a), [0, 0.0, 0.0, 0.0, 0.0])
        v[0] += 1; v[1] += o; v[2] += a
        if st is not None: v[3] += st * a; v[4] += a
    return bins, bad

# ---------------------------------------------------------------- A6: an answer of a second kind
def settled_panel(Y, N, G, area=None, settle=7):
    """Farms long after their start lend their month-to-month changes: cells t >= G+settle become an own pseudo-farm (own level, never started).
    Assumes that a farm's effect no longer changes `settle` months after the start. Returns Y2, N2, G2, area2; rows n.. are the pseudo-farms."""
    n, T = Y.shape; G = np.asarray(G); tt = np.arange(T)[None, :]
    use = (tt >= G[:, None] + settle) & ~np.isnan(Y) & (N > 0); k = np.flatnonzero(use.sum(1) >= 6)
    Y2 = np.concatenate([Y, np.where(use[k], Y[k], np.nan)]); N2 = np.concatenate([N, np.where(use[k], N[k], 0.0)])
    G2 = np.concatenate([G, np.full(len(k), NEVER)]); ar = np.zeros(n, int) if area is None else np.asarray(area)
    return Y2, N2, G2, np.concatenate([ar, ar[k]]), k

def settled_drift(r, G, X=None, settle=7):
    """only while >= 5 untreated farms report: slope per month of settled farms' residuals (own level) against months since start, clustered by farm.
    `steady` when |slope| <= 2 se and 2 se <= 0.004; `drifting` when |slope| > 2 se; else `not_known`. A linear drift cannot be seen once no untreated farm is left."""
    n, T = r["core"]["R"].shape; tt = np.arange(T)[None, :]; Gc = np.asarray(G)[:, None]
    U = r["core"]["obs"] & r["months_ok"][None, :] & (tt >= Gc + settle) & (r["status"] != "check_level")[:, None]; U &= (U.sum(1) >= 4)[:, None]; m = int(U.any(1).sum())
    if m < 5: return dict(status="not_known", farms=m, slope=None, se=None)
    w = np.where(U, r["W"], 0.0); wn = w / np.maximum(1e-300, w.sum(1))[:, None]; x = np.where(U, (tt - Gc) * 1.0, 0.0); x = np.where(U, x - (wn * x).sum(1)[:, None], 0.0)
    y = np.where(U, r["core"]["R"] - (wn * np.where(U, r["core"]["R"], 0.0)).sum(1)[:, None], 0.0); sxx = (w * x * x).sum(); b = float((w * x * y).sum() / sxx)
    c = w * x / sxx; V = r["fit"]["V"]; gv = c.sum(0) if X is None else np.concatenate([c.sum(0), np.einsum("it,itk->k", c, X)])
    se = math.sqrt(((w * x * (y - b * x)).sum(1) ** 2).sum() * m / (m - 1) / sxx ** 2 + float(gv @ V @ gv))     # own noise + month effects
    st = "drifting" if abs(b) > 2 * se else "steady" if 2 * se <= 0.004 else "not_known"
    return dict(status=st, farms=m, slope=b, se=float(se))

def dose_response(Y, N, G, dose, area=None, settle=1, kappa=4.0):
    """settled farm-months only (t > G): Y = alpha_i + lambda_t + beta*dose; months need >= 5 farms. beta per kg dry matter per animal-day, clustered by farm.
    lead = coefficient of next month's dose beside it (should be 0: output that falls before the feed stops points at reverse cause)."""
    n, T = Y.shape; G = np.asarray(G); tt = np.arange(T)[None, :]
    def fit(Z):
        U = ~np.isnan(Y) & (N > 0) & (tt >= G[:, None] + settle) & ~np.isnan(Z).any(2); U &= (U.sum(0) >= 5)[None, :]; U &= (U.sum(1) >= 4)[:, None]
        if U.sum() < 30: return None
        W = np.where(U, N / (N + kappa), 0.0); f = fit_untreated(np.where(U, Y, np.nan), W, U, np.where(U[:, :, None], Z, 0.0)); m = int(U.any(1).sum())
        return f, U, m
    r = fit(dose[:, :, None])
    if r is None: return dict(status="insufficient_dose_data")
    f, U, m = r; T_ = T; b = float(f["beta"][0]); se = math.sqrt(max(0.0, f["V"][T_, T_])); w = np.where(U, dose, 0.0)
    dbar = (np.where(U, dose, 0).sum() / U.sum()); wv = np.where(U, dose - (w.sum(1) / np.maximum(1, U.sum(1)))[:, None], 0.0); sdw = math.sqrt((wv ** 2).sum() / U.sum())
    if sdw < 0.05 * max(1e-12, abs(dbar)) or se == 0: return dict(status="no_dose_variation", sd_within=sdw, mean_dose=float(dbar))
    nxt = np.full_like(dose, np.nan); nxt[:, :-1] = dose[:, 1:]; r2 = fit(np.stack([dose, nxt], 2)); lead = lse = None
    if r2: lead = float(r2[0]["beta"][1]); lse = math.sqrt(max(0.0, r2[0]["V"][T + 1, T + 1]))
    df = max(1, m - 2); tq = float(stats.t.ppf(0.975, df)); st = "estimated" if lead is None or lse == 0 or abs(lead) <= 2 * lse else "dose_follows_output"
    return dict(status=st, beta=b, se=se, df=df, lo=b - tq * se, hi=b + tq * se, at_mean=b * dbar, at_mean_lo=(b - tq * se) * dbar, at_mean_hi=(b + tq * se) * dbar, mean_dose=float(dbar), sd_within=sdw, farms=m, lead=lead, lead_se=lse)

# ---------------------------------------------------------------- A7: design of trials
def splitmix64(seed):
    x = seed & (2**64 - 1)
    while True:
        x = (x + 0x9E3779B97F4A7C15) & (2**64 - 1); z = x
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & (2**64 - 1); z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & (2**64 - 1)
        yield z ^ (z >> 31)

def start_order(area, size, starts, seed):
    """random start months, stratified. starts = farms to start in plan month 0,1,..; the rest wait (-1). Strata: area x herd third
    (third = floor(3*rank/m) within the area, ties by index). Strata ascending, shuffled inside (Fisher-Yates, SplitMix64, index = draw mod (j+1)),
    laid end to end; slots spread evenly: position p gets the slot whose running quota is furthest behind (ties: lowest; waiting last)."""
    area = list(area); size = list(size); n = len(area); rng = splitmix64(seed); order = []
    for a in sorted(set(area)):
        ix = sorted([i for i in range(n) if area[i] == a], key=lambda i: (size[i], i)); m = len(ix); th = {i: 3 * k // m for k, i in enumerate(ix)}
        for q in range(3):
            s = sorted(i for i in ix if th[i] == q)
            for j in range(len(s) - 1, 0, -1):
                k = next(rng) % (j + 1); s[j], s[k] = s[k], s[j]
            order += s
    quota = [int(x) for x in starts] + [n - sum(starts)]; assert min(quota) >= 0
    lab = list(range(len(starts))) + [-1]; got = [0] * len(quota); out = [-1] * n
    for p, i in enumerate(order):
        lag = [quota[k] * (p + 1) / n - got[k] if got[k] < quota[k] else -1e9 for k in range(len(quota))]
        k = max(range(len(quota)), key=lambda q: (round(lag[q], 9), -q)); got[k] += 1; out[i] = lab[k]
    return out

def _quad(M, g, se2, inv):
    T = M.shape[1]; lag = np.abs(np.arange(T)[:, None] - np.arange(T)[None, :])
    return (M * M * inv).sum(1) * se2 - ((M @ g[lag]) * M).sum(1)

def plan_power(start, before, after, records, g, se2, area=None, area_su2=0.0, area_phi=0.0, sd_effect=0.0, df_pool=60.0, kappa=4.0, power=0.8, g_month_sd=None):
    """start[i] = plan month of the start (0 = first), -1 waits. `before` months of records before month 0, months in all = before + last start + 1 + after.
    g, se2: the co-operative's own placebo variogram. Smallest effect (log) told with the given power: member (median over starters), area, programme."""
    start = np.asarray(start); n = len(start); last = int(start.max()); T = before + last + 1 + after; G = np.where(start >= 0, before + start, NEVER); area = np.zeros(n, int) if area is None else np.asarray(area)
    gg = np.concatenate([g, np.full(max(0, T - len(g)), g[-1])])[:T]; N = np.full((n, T), float(records)); W = N / (N + kappa); inv = 1.0 / N; tt = np.arange(T)[None, :]
    wait = (start < 0).sum(); U = tt < G[:, None]; nc = U.sum(0); good = nc >= 5
    Q = (tt > G[:, None]) & (tt <= G[:, None] + 12) & good[None, :]; P = U & (tt >= G[:, None] - 12) & good[None, :]
    k = (Q.sum(1) >= 2) & (P.sum(1) >= 3)
    if not k.any(): return dict(status="no_controls", waiting=int(wait), usable_months=int(good.sum()))
    f = fit_untreated(np.zeros((n, T)), W, U); cell = Q & k[:, None]
    za = lambda df: float(stats.t.ppf(0.975, df) + stats.t.ppf(power, df)); Gm = area_su2 * (1 - area_phi ** np.abs(np.arange(T)[:, None] - np.arange(T)[None, :]))
    def va(sel):
        a = att_imputation(np.zeros((n, T)), W, G, cell & sel[:, None], fit=f); L = a["L"]; v = float(_quad(L, gg, se2, inv).sum())
        b = np.zeros((area.max() + 1, T)); np.add.at(b, area, L); v += max(0.0, float(-((b @ Gm) * b).sum() + ((L @ Gm) * L).sum())); return v
    nk = int(k.sum()); vp = va(k); prog = math.sqrt(vp + sd_effect ** 2 / nk)
    nz = lambda M: M / np.maximum(1, M.sum(1))[:, None]; a = np.where(k[:, None], nz(Q * 1.0) - nz(P * 1.0), 0.0); v0 = _quad(a, gg, se2, inv)
    ab = a[k].mean(0); kp = f["Sinv"][:T, :T] @ ab; h = np.broadcast_to(kp[None, :], (n, T)); M = f["w"] * (h - (f["wn"] * h).sum(1)[:, None]); vc = float(_quad(M, gg, se2, inv).sum())
    mem = np.sqrt(v0[k] + vc); areas = {}
    for x in np.unique(area[k]):
        s = k & (area == x); areas[int(x)] = za(df_pool) * math.sqrt(va(s) + sd_effect ** 2 / s.sum())
    return dict(status="ok", farms=nk, waiting=int(wait), months=T, usable_months=int(good.sum()), se_programme=prog, mde_programme=za(df_pool) * prog, mde_member=za(df_pool) * float(np.median(mem)), mde_area=areas)

def switchback(blocks, block_months, seed, washout=1):
    """on/off schedule of one farm: blocks come in pairs, order inside a pair drawn (SplitMix64 low bit: 1 = on first); `washout` months at the start of each block are not used."""
    rng = splitmix64(seed); on = []
    for _ in range(blocks // 2):
        b = next(rng) & 1; on += [1, 0] if b else [0, 1]
    s = np.repeat(on, block_months); use = np.tile(np.arange(block_months) >= washout, len(on)); return s.astype(int), use

def switchback_power(on, use, records, g, se2, month_se=0.0, df=None, power=0.8):
    """contrast mean(on) - mean(off) over used months; g, se2 as above; month_se = standard error of one month effect (0 when the farm's months are set against >= 20 others)."""
    T = len(on); a = np.zeros(T); p, q = use & (on == 1), use & (on == 0)
    if p.sum() == 0 or q.sum() == 0: return dict(status="no_contrast")
    a[p] = 1 / p.sum(); a[q] = -1 / q.sum(); gg = np.concatenate([g, np.full(max(0, T - len(g)), g[-1])])[:T]
    v = float(_quad(a[None, :], gg, se2, np.full((1, T), 1.0 / records))[0]) + month_se ** 2 * float((a * a).sum()); df = max(1, int(p.sum() + q.sum()) - 2) if df is None else df
    return dict(status="ok", se=math.sqrt(v), mde=float(stats.t.ppf(0.975, df) + stats.t.ppf(power, df)) * math.sqrt(v), months_used=int(p.sum() + q.sum()))

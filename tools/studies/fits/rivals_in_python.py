# SPDX-License-Identifier: MIT
"""General solvers of Python's world on the same curves: batched NumPy, SciPy and lmfit. Each gives parameters,
covariance, chi2 and two predictions with their interval."""

import numpy as np

POWERS = np.concatenate([np.geomspace(1.2, 12.0, 24)])
STARTS = (1.7, 3.5, 7.0)


def model_of(kind):
    if kind == "magnetising":
        return lambda x, a, b, m: a * x + b * x**m
    return lambda x, a, n: a * x**n


def gradient_of(kind, x, p):
    """Derivatives of the current, last axis over the parameters; p has the parameters last."""
    p = np.moveaxis(np.asarray(p), -1, 0)[..., None]
    power = x ** p[-1]
    if kind == "magnetising":
        return np.stack([np.broadcast_to(x, power.shape), power, p[1] * power * np.log(x)], axis=-1)
    return np.stack([power, p[0] * power * np.log(x)], axis=-1)


def value_of(kind, x, p):
    return model_of(kind)(x, *np.moveaxis(np.asarray(p), -1, 0)[..., None])


def finished(kind, x, current, weights, at, factor, p):
    """The whole answer from the parameters, for one curve or many."""
    left = current - value_of(kind, x, p)
    gradient = gradient_of(kind, x, p)
    inverse = np.linalg.inv(np.einsum("...ij,...i,...ik->...jk", gradient, weights, gradient))
    chi2 = np.sum(weights * left**2, axis=-1)
    scale = chi2 / (x.shape[-1] - gradient.shape[-1])
    there = gradient_of(kind, at, p)
    variance = np.einsum("...ij,...jk,...ik->...i", there, inverse, there)
    half = factor * np.sqrt(scale[..., None] * (1 + variance))
    value = value_of(kind, at, p)
    return p, scale[..., None, None] * inverse, chi2, value, value - half, value + half


def numpy_power(x, current, weights, steps=4):
    """Newton's steps of the exponent, the level being linear, for all curves at once."""
    z = np.log(x)
    pull = weights * current
    w = pull * current
    mean = np.sum(w * z, 1) / np.sum(w, 1)
    off = z - mean[:, None]
    n = np.sum(w * off * np.log(current), 1) / np.sum(w * off**2, 1)
    for _ in range(steps):
        power = np.exp(n[:, None] * z)
        p, q = pull * power, weights * power * power
        s0, t0 = p.sum(1), q.sum(1)
        s1, t1 = (p * z).sum(1) / s0, (q * z).sum(1) / t0
        s2, t2 = (p * z * z).sum(1) / s0, (q * z * z).sum(1) / t0
        n = n - (s1 - t1) / (s2 - s1**2 - 2 * (t2 - t1**2))
    power = np.exp(n[:, None] * z)
    return np.stack([np.sum(pull * power, 1) / np.sum(weights * power**2, 1), n], axis=1)


def numpy_robust(x, current, weights):
    """Huber's weights, one Newton step of parameters to each, until all rest. Curves that rest are taken out."""
    p = numpy_power(x, current, weights)
    root = np.sqrt(weights)
    sizes = np.abs(root * (current - value_of("power", x, p)))
    middle = np.median(sizes, axis=1) if np.all(weights) else np.nanmedian(np.where(weights, sizes, np.nan), axis=1)
    bend = 1.345 * 1.4826 * middle[:, None]
    here = np.arange(len(x))
    for _ in range(400):
        rows = x[here], current[here], weights[here]
        left = np.abs(root[here] * (rows[1] - value_of("power", rows[0], p[here])))
        share = np.minimum(1.0, bend[here] / np.maximum(left, 1e-300))
        gradient = gradient_of("power", rows[0], p[here])
        w = share * rows[2]
        gram = np.einsum("nij,ni,nik->njk", gradient, w, gradient)
        slope = np.einsum("nij,ni->nj", gradient, w * (rows[1] - value_of("power", rows[0], p[here])))
        step = np.linalg.solve(gram, slope[:, :, None])[:, :, 0]
        p[here] += step
        here = here[np.any(np.abs(step) > 1e-8 * np.abs(p[here]), axis=1)]
        if not len(here):
            break
    left = np.abs(root * (current - value_of("power", x, p)))
    return p, np.minimum(1.0, bend / np.maximum(left, 1e-300))


def numpy_magnetising(x, current, weights, steps=6):
    """A scan of m and Newton's steps from its lowest point, a and b being linear."""
    z = np.log(x)
    root = np.sqrt(weights)
    line = root * x
    line = line / np.linalg.norm(line, axis=1, keepdims=True)
    across = root * current
    across = across - line * np.sum(line * across, 1, keepdims=True)

    def parts(m):
        power = root * np.exp(m[:, None] * z)
        bent = [power, power * z, power * z * z]
        return [b - line * np.sum(line * b, 1, keepdims=True) for b in bent]

    best = np.full(len(x), -np.inf)
    m = np.empty(len(x))
    for candidate in POWERS:
        power = root * np.exp(candidate * z)
        bent = power - line * np.sum(line * power, 1, keepdims=True)
        explained = np.sum(across * bent, 1) ** 2 / np.sum(bent**2, 1)
        m = np.where(explained > best, candidate, m)
        best = np.maximum(best, explained)
    for _ in range(steps):
        q, q1, q2 = parts(m)
        n, n1, n2 = ((across * b).sum(1) for b in (q, q1, q2))
        d, d1 = (q * q).sum(1), (q * q1).sum(1)
        slope = n1 / n - d1 / d
        bend = n2 / n - (n1 / n) ** 2 - ((q1 * q1).sum(1) + (q * q2).sum(1)) / d + 2 * (d1 / d) ** 2
        m = np.clip(m - np.clip(slope / bend, -0.2 * m, 0.2 * m), 1.2, 12.0)
    q = parts(m)[0]
    b = np.sum(across * q, 1) / np.sum(q * q, 1)
    a = np.sum(weights * x * (current - b[:, None] * x ** m[:, None]), 1) / np.sum(weights * x * x, 1)
    return np.stack([a, b, m], axis=1)


def numpy_batch(kind, x, current, weights, at, factor, chunk=4096):
    """All curves, a few thousand at a time so that the arrays stay in the cache."""
    parts = []
    for first in range(0, len(x), chunk):
        rows = x[first : first + chunk], current[first : first + chunk], weights[first : first + chunk]
        if kind == "robust":
            p, share = numpy_robust(*rows)
            rows = rows[0], rows[1], rows[2] * share
        else:
            p = (numpy_magnetising if kind == "magnetising" else numpy_power)(*rows)
        parts.append(finished(kind, *rows, at, factor, p))
    return [np.concatenate(part) for part in zip(*parts)]


def start_of(kind, x, current, m=None):
    if kind == "magnetising":
        return [*np.linalg.lstsq(np.column_stack([x, x**m]), current, rcond=None)[0], m]
    n, level = np.polyfit(np.log(x), np.log(current), 1)
    return [np.exp(level), n]


def huber_bend(root, left):
    return 1.345 * 1.4826 * np.median(np.abs(root * left))


def scipy_one(kind, x, current, weights, at, factor):
    from scipy import optimize

    def jacobian(x, *p):
        return gradient_of(kind, x, p)

    found = []
    for m in STARTS if kind == "magnetising" else (None,):
        try:
            p, _ = optimize.curve_fit(
                model_of(kind), x, current, start_of(kind, x, current, m), sigma=weights**-0.5, jac=jacobian,
                xtol=1e-10, ftol=1e-12,
            )  # fmt: skip
        except RuntimeError:
            continue
        if kind != "magnetising" or 1.2 <= p[2] <= 12.0:
            found.append((np.sum(weights * (current - value_of(kind, x, p)) ** 2), list(p)))
    if not found:
        return finished(kind, x, current, weights, at, factor, np.full(3 if kind == "magnetising" else 2, np.nan))
    p = min(found)[1]
    if kind == "robust":
        root = np.sqrt(weights)
        bend = huber_bend(root, current - value_of(kind, x, p))
        p = optimize.least_squares(
            lambda q: root * (current - value_of(kind, x, q)), p, lambda q: -root[:, None] * gradient_of(kind, x, q),
            loss="huber", f_scale=bend, xtol=1e-12, ftol=1e-13, gtol=1e-13, x_scale="jac",
        ).x  # fmt: skip
        weights = weights * np.minimum(1.0, bend / np.abs(root * (current - value_of(kind, x, p))))
    return finished(kind, x, current, weights, at, factor, np.asarray(p))


def lmfit_one(kind, x, current, weights, at, factor):
    import lmfit

    root = np.sqrt(weights)
    names = ("a", "b", "m") if kind == "magnetising" else ("a", "n")

    def left(parameters):
        return root * (value_of(kind, x, [parameters[name].value for name in names]) - current)

    def fitted(start, **options):
        given = lmfit.Parameters()
        for name, value in zip(names, start):
            given.add(name, value, min=1.2 if name == "m" else -np.inf, max=12.0 if name == "m" else np.inf)
        found = lmfit.minimize(left, given, **options)
        return found.chisqr, [found.params[name].value for name in names]

    starts = STARTS if kind == "magnetising" else (None,)
    tight = dict(xtol=1e-10, ftol=1e-12)
    p = min(fitted(start_of(kind, x, current, m), **tight) for m in starts)[1]
    if kind == "robust":
        bend = huber_bend(root, current - value_of(kind, x, p))
        p = fitted(p, method="least_squares", loss="huber", f_scale=bend, jac="3-point", **tight)[1]
        weights = weights * np.minimum(1.0, bend / np.abs(root * (current - value_of(kind, x, p))))
    return finished(kind, x, current, weights, at, factor, np.asarray(p))

"""The beta distribution: how well a share is known after so many trials. SciPy would add seconds to the start.

I_x(a, b) comes from the continued fraction of DLMF 8.17.22, by the modified method of Lentz (Thompson and Barnett
1986); its inverse by Newton's method between two bounds, which halves them where a step leads out of them or gains
little. A test compares both with scipy.stats.
"""

from math import exp, lgamma, log, log1p

_TINY = 1e-300
_STEPS = 10_000
_GUESSES = 400
#: Part of a share by which the next guess may differ from it once it is found.
_NEAR = 1e-15


def beta_cdf(x: float, a: float, b: float) -> float:
    """P(share <= x) where the share is Beta(a, b), a and b above 0."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):  # the fraction converges fast on the other side
        return 1 - beta_cdf(1 - x, b, a)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a
    value, c, d = 1.0, 1.0, 0.0
    for step in range(_STEPS):
        m = step // 2
        if step == 0:
            term = 1.0
        elif step % 2 == 0:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        else:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1 / _away_from_zero(1 + term * d)
        c = _away_from_zero(1 + term / c)
        value *= c * d
        if step and abs(c * d - 1) < 1e-14:
            break
    return min(max(front * (value - 1), 0.0), 1.0)


def _away_from_zero(x: float) -> float:
    return x if abs(x) > _TINY else _TINY


def beta_quantile(p: float, a: float, b: float) -> float:
    """The share that Beta(a, b) stays below with probability `p`."""
    low, high, x, off = 0.0, 1.0, a / (a + b), 1.0
    scale = lgamma(a + b) - lgamma(a) - lgamma(b)
    for _ in range(_GUESSES):
        before, off = off, beta_cdf(x, a, b) - p
        if off < 0:
            low = x
        else:
            high = x
        middle = (low + high) / 2
        if off == 0 or middle in (low, high):
            break
        density = exp(min(scale + (a - 1) * log(x) + (b - 1) * log1p(-x), 700.0))
        step = x - off / density if density > 0 and abs(off) < abs(before) / 2 else middle
        if abs(step - x) <= _NEAR * x:
            break
        x = step if low < step < high else middle
    return x


def exact(seen: float, of: float, mass: float = 0.95) -> tuple[float, float]:
    """The interval of Clopper and Pearson (1934) for a share where `seen` of `of` were counted: it holds the true share
    at least as often as `mass` says, whatever that is. The whole range where nothing was counted."""
    tail = (1 - mass) / 2
    low = beta_quantile(tail, seen, of - seen + 1) if seen > 0 else 0.0
    high = beta_quantile(1 - tail, seen + 1, of - seen) if seen < of else 1.0
    return low, high


def credible(a: float, b: float, mass: float = 0.95) -> tuple[float, float]:
    """The equal-tailed credible interval of a share that is Beta(a, b)."""
    tail = (1 - mass) / 2
    return beta_quantile(tail, a, b), beta_quantile(1 - tail, a, b)

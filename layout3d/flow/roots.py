"""Where a law of one figure crosses zero: a thin face on the library's root finder. Nothing else."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["root"]

ROUNDING = 1e-9  # share of the larger end value within which an end counts as the root


def root(law: Callable[[float], float], low: float, high: float) -> float:
    """Find where ``law`` crosses 0 between ``low`` and ``high``, to the last digits.

    The caller has seen to it that the signs at the ends differ; where rounding has eaten the difference
    the end itself is the answer.

    Sources
    -------
    Brent 1973, Algorithms for Minimization without Derivatives, ch. 4, by ``fluids.numerics.brenth``.

    >>> round(root(lambda x: x * x - 2.0, 0.0, 2.0), 6)
    1.414214
    """
    at_low, at_high = law(low), law(high)
    if at_low * at_high > 0.0:
        least, end = min((abs(at_low), low), (abs(at_high), high))
        if least <= ROUNDING * max(abs(at_low), abs(at_high)) or least <= 1e-14:
            return end
        raise ArithmeticError(
            f"a fault of the program in flow.roots.root: no change of sign between {low!r} and {high!r}"
        )
    from fluids.numerics import brenth

    solve: Callable[..., float] = brenth
    return float(solve(law, low, high, xtol=1e-30, maxiter=500, fa=at_low, fb=at_high))

"""The plain cooling-curve fit: least squares on a rise or fall that levels off, with its errors.

Two forms cover what a probe in a cooling bowl does by itself: an exponential approach, and the
same with a second, faster term for the probe's own lag. `fit` judges any other form as well, which
is how it is held against certified data.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Form = Callable[[Array, Array], Array]

_OPEN = 1e-9
"""A direction that moves the residuals by less than this share of the strongest is left open:
central differences err by some 4e-11."""

_FAR = 1e100
"""Stands for residuals that no float, or no square of a float, can hold."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A least-squares fit.

    Args:
        params: (p,) best parameters, in the form's own units.
        sd: (p,) standard deviations; NaN where the data do not determine the parameter.
        covariance: (p, p) in the same units.
        rss: residual sum of squares [unit of y, squared].
        rsd: residual standard deviation [unit of y].
        converged: False if the search stopped for want of steps.
    """

    params: Array
    sd: Array
    covariance: Array
    rss: float
    rsd: float
    converged: bool

    @property
    def undetermined(self) -> tuple[int, ...]:
        """Indices of the parameters that the data do not determine."""
        return tuple(int(i) for i in np.flatnonzero(~np.isfinite(self.sd)))


def exponential_approach(x: Array, params: Array) -> Array:
    """Y = b1 (1 − exp(−b2 x)): a rise from zero to b1 [unit of y] at rate b2 [1/unit of x].

    >>> exponential_approach(np.array([0.0, 1.0]), np.array([2.0, np.log(2.0)]))
    array([0., 1.])
    """
    return np.asarray(params[0] * -np.expm1(-params[1] * x))


def two_term(x: Array, params: Array) -> Array:
    """Y = b1 + b2 exp(−b4 x) + b3 exp(−b5 x): an approach to b1 through two decays.

    >>> two_term(np.array([0.0]), np.array([1.0, 2.0, -0.5, 0.1, 1.0]))
    array([2.5])
    """
    b1, b2, b3, b4, b5 = params
    return np.asarray(b1 + b2 * np.exp(-b4 * x) + b3 * np.exp(-b5 * x))


def fit(form: Form, x: ArrayLike, y: ArrayLike, start: Sequence[float]) -> Fit:
    """Least squares of `form` on points, with standard deviations from the Jacobian.

    Args:
        form: f(x, params) of (n,) and (p,) to (n,).
        x: (n,) abscissae.
        y: (n,) values; n must exceed p.
        start: (p,) first guess; none may be 0, since steps are relative.

    Raises:
        ValueError: fewer points than parameters, or values that are not finite.

    Source: Levenberg–Marquardt of MINPACK through scipy; covariance s² (JᵀJ)⁻¹ as in the NIST
    Statistical Reference Datasets.

    >>> x = np.linspace(0.0, 10.0, 30)
    >>> result = fit(exponential_approach, x, 5.0 * (1.0 - np.exp(-0.4 * x)), [3.0, 1.0])
    >>> float(result.params[1])
    0.4
    """
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import, not always needed

    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if xs.size <= len(start):
        raise ValueError(f"{xs.size} points cannot determine {len(start)} parameters")
    if not (np.isfinite(xs).all() and np.isfinite(ys).all()):
        raise ValueError("points that are not finite cannot be fitted")
    scale = np.abs(np.asarray(start, dtype=float))

    def residuals(scaled: Array) -> Array:
        with np.errstate(over="ignore", invalid="ignore"):
            r = form(xs, scaled * scale) - ys
        return np.asarray(np.clip(np.nan_to_num(r, nan=_FAR), -_FAR, _FAR))

    first = np.asarray(start, dtype=float) / scale

    def slopes(scaled: Array) -> Array:
        return _central_jacobian(residuals, scaled)

    # The trust region walks out of far starts that throw Levenberg–Marquardt off, which then
    # gives the last digits.
    near = least_squares(residuals, first, jac=slopes, method="trf", x_scale="jac", max_nfev=500)
    found = least_squares(
        residuals, near.x, jac=slopes, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15
    )
    jacobian = slopes(found.x)
    rss = float(np.sum(residuals(found.x) ** 2))
    rsd = float(np.sqrt(rss / (xs.size - len(start))))
    covariance = _covariance(jacobian) * rsd**2 * np.outer(scale, scale)
    return Fit(
        params=found.x * scale,
        sd=np.sqrt(np.diag(covariance)),
        covariance=covariance,
        rss=rss,
        rsd=rsd,
        converged=bool(found.status > 0),
    )


def _central_jacobian(f: Callable[[Array], Array], at: Array) -> Array:
    columns = []
    for i, value in enumerate(at):
        step = np.cbrt(np.finfo(float).eps) * max(abs(float(value)), 1e-3)
        up, down = at.copy(), at.copy()
        up[i] += step
        down[i] -= step
        columns.append((f(up) - f(down)) / (up[i] - down[i]))
    return np.column_stack(columns)


def _covariance(jacobian: Array) -> Array:
    """(JᵀJ)⁻¹ through the singular values; NaN for directions that the data leave open."""
    _, s, vt = np.linalg.svd(jacobian, full_matrices=False)
    open_directions = s <= s[0] * _OPEN
    inverse = np.where(open_directions, 0.0, 1.0 / np.where(open_directions, 1.0, s))
    covariance = np.asarray((vt.T * inverse**2) @ vt)
    for direction in vt[open_directions]:
        touched = np.abs(direction) > 1e-6
        covariance[touched, :] = np.nan
        covariance[:, touched] = np.nan
    return covariance

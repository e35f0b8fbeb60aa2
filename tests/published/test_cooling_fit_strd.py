"""The cooling-curve fit against the certified values of NIST's nonlinear regression problems.

Data, starts and certified values: NIST Statistical Reference Datasets, in `strd_points.csv` and
`strd_certified.csv` beside this file. The forms are those of exponential approach and decay, and
two that are hard for other reasons (MGH09 is a ratio of polynomials).
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigmon.estimate.coolingfit import Array, Fit, Form, exponential_approach, fit, two_term

if TYPE_CHECKING:
    from tests.published.conftest import Held

SIX_DIGITS = 1e-6
PROBLEMS = ("Misra1a", "BoxBOD", "MGH17", "Misra1b", "Lanczos3", "MGH09", "Chwirut2")


def misra1b(x: Array, b: Array) -> Array:
    """Y = b1 (1 − (1 + b2 x / 2)⁻²)."""
    return np.asarray(b[0] * (1.0 - (1.0 + b[1] * x / 2.0) ** -2))


def lanczos(x: Array, b: Array) -> Array:
    """Three decays."""
    return np.asarray(sum(b[i] * np.exp(-b[i + 1] * x) for i in (0, 2, 4)))


def mgh09(x: Array, b: Array) -> Array:
    """Y = b1 (x² + b2 x) / (x² + b3 x + b4)."""
    return np.asarray(b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]))


def chwirut(x: Array, b: Array) -> Array:
    """Y = exp(−b1 x) / (b2 + b3 x)."""
    return np.asarray(np.exp(-b[0] * x) / (b[1] + b[2] * x))


FORMS: Mapping[str, Form] = {
    "Misra1a": exponential_approach,
    "BoxBOD": exponential_approach,
    "MGH17": two_term,
    "Misra1b": misra1b,
    "Lanczos3": lanczos,
    "MGH09": mgh09,
    "Chwirut2": chwirut,
}


def table(name: str, dataset: str) -> Mapping[str, Array]:
    """The columns of one problem's rows in a file beside this one."""
    lines = (Path(__file__).parent / name).read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    chosen = [row for row in rows if row["dataset"] == dataset]
    columns = [column for column in chosen[0] if column not in {"dataset", "parameter"}]
    return {column: np.array([float(row[column]) for row in chosen]) for column in columns}


def hold_to_six_digits(held: Held, what: str, found: Array, certified: Array) -> None:
    """Hold every value to a relative error of 1e-6, which NIST counts as six digits."""
    for ours, theirs in zip(found.tolist(), certified.tolist(), strict=True):
        held(
            f"{what}, seven fits from two starts each",
            ours,
            theirs,
            within=SIX_DIGITS * abs(theirs),
            unit="",
            source="NIST StRD, nonlinear regression, certified",
        )


def fitted(dataset: str, start: str) -> tuple[Fit, Mapping[str, Array]]:
    """A problem fitted from one of its starts, and what is certified."""
    points, certified = table("strd_points.csv", dataset), table("strd_certified.csv", dataset)
    return fit(FORMS[dataset], points["x"], points["y"], list(certified[start])), certified


@pytest.mark.parametrize("start", ["start1", "start2"])
@pytest.mark.parametrize("dataset", PROBLEMS)
def test_parameters_agree_with_the_certified_ones_from_both_starts(
    held: Held, dataset: str, start: str
) -> None:
    """From the far start and the near one, every parameter agrees to six digits."""
    found, certified = fitted(dataset, start)

    assert found.converged
    hold_to_six_digits(held, "Fitted constants", found.params, certified["certified"])


@pytest.mark.parametrize("start", ["start1", "start2"])
@pytest.mark.parametrize("dataset", PROBLEMS)
def test_standard_errors_agree_with_the_certified_ones(
    held: Held, dataset: str, start: str
) -> None:
    """The spread that is told is the certified one to six digits, and so is the residual's."""
    found, certified = fitted(dataset, start)

    assert found.undetermined == ()
    hold_to_six_digits(held, "Standard errors of the constants", found.sd, certified["sd"])
    residuals = np.array([found.rsd, found.rss])
    expected = np.array([certified["rsd"][0], certified["rss"][0]])
    hold_to_six_digits(held, "Standard deviation and sum of residuals", residuals, expected)

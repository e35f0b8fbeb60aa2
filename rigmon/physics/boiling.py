"""Where water boils, by the pressure of the air or by the height of the kitchen."""

from __future__ import annotations

import math

LOWEST_HPA, HIGHEST_HPA = 500.0, 1100.0
"""Pressures of the air that there are where people cook [hPa]: from 5600 m up to below the sea."""
LOWEST_M, HIGHEST_M = -450.0, 5500.0

_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
"""IAPWS-IF97, table 34: coefficients of region 4, the line on which water and steam rest."""


def boiling_c(pressure_hpa: float) -> float:
    """Temperature [°C] at which pure water boils under `pressure_hpa` [hPa].

    The backward equation of the saturation line, IAPWS-IF97 region 4: with β = (p / 1 MPa)^¼,
    E = β² + n3 β + n6, F = n1 β² + n4 β + n7, G = n2 β² + n5 β + n8,
    D = 2 G / (−F − (F² − 4 E G)^½) and T = (n10 + D − ((n10 + D)² − 4 (n9 + n10 D))^½) / 2.
    Within 0.2 mK of IAPWS-95 here.

    Raises:
        ValueError: a pressure outside 500 to 1100 hPa.

    Source: IAPWS R7-97(2012), equation 31 and table 34.

    >>> round(boiling_c(1013.25), 3)
    99.974
    """
    if not LOWEST_HPA <= pressure_hpa <= HIGHEST_HPA:
        raise ValueError(
            f"found {pressure_hpa:g} hPa, allowed are {LOWEST_HPA:g} to {HIGHEST_HPA:g} hPa"
        )
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    beta = math.pow(pressure_hpa * 1e-4, 0.25)
    e = beta * beta + n3 * beta + n6
    f = n1 * beta * beta + n4 * beta + n7
    g = n2 * beta * beta + n5 * beta + n8
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    return 0.5 * (n10 + d - math.sqrt((n10 + d) * (n10 + d) - 4.0 * (n9 + n10 * d))) - 273.15


def standard_pressure_hpa(altitude_m: float) -> float:
    """Pressure [hPa] of the standard atmosphere at `altitude_m` [m] above the sea.

    p = 1013.25 hPa (1 − 0.0065 h / 288.15)^5.25588. The weather moves it by some 10 hPa.

    Raises:
        ValueError: an altitude outside −450 to 5500 m.

    Source: ISO 2533 (ICAO Doc 7488), troposphere.

    >>> round(standard_pressure_hpa(1500.0), 1)
    845.6
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise ValueError(f"found {altitude_m:g} m, allowed are {LOWEST_M:g} to {HIGHEST_M:g} m")
    return 1013.25 * math.pow(1.0 - 0.0065 * altitude_m / 288.15, 5.25588)

"""Mixed models of the books, held to published figures: they vouch for the dense model that the engine is held to."""

from __future__ import annotations

import csv
from importlib.util import find_spec
from math import exp, log, pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from collection.analysis.drift.given import Floats
from tests.support.dense_reml import best, dense, indicator, level_and_slope, simplex, variances


def numbers(text: str) -> Floats:
    """Return the numbers that stand in a text, a row a line."""
    return np.array([line.split() for line in text.split("\n") if line.strip()], dtype=float)


GAUGE_AVERAGE = numbers(
    """
    95.1162 95.0569 95.0598 95.1487 95.0743 95.101
    99.2939 99.3234 99.2748 99.3512 99.235 99.3574
    96.0771 95.9976 96.0148 96.0397 96.0407 96.0445
    101.0471 101.0224 101.0702 101.0904 101.0626 101.0686
    94.2437 94.2115 94.2348 94.2124 94.2214 94.1651
    95.1687 95.1564 95.1354 95.0422 95.1354 95.1075
    99.3408 99.3116 99.3241 99.2991 99.3049 99.2782
    96.0793 96.1115 96.0803 96.0411 96.0988 96.0482
    101.1353 101.1201 101.0946 100.9977 101.0963 101.03
    94.2052 94.2824 94.2396 94.2087 94.2937 94.233
    """
)

GAUGE_SD = numbers(
    """
    0.048 0.0577 0.0516 0.0386 0.0256 0.042
    0.0818 0.0723 0.0756 0.0475 0.0517 0.0485
    0.1024 0.0943 0.0622 0.0702 0.0627 0.0622
    0.032 0.102 0.058 0.1049 0.0702 0.0661
    0.0503 0.0919 0.0282 0.0513 0.0627 0.101
    0.0785 0.043 0.0983 0.0773 0.0587 0.0776
    0.1279 0.1131 0.0519 0.0903 0.0783 0.0718
    0.0996 0.0533 0.0364 0.0768 0.1042 0.0868
    0.0585 0.0868 0.0855 0.0645 0.0638 0.0549
    0.0813 0.0605 0.0882 0.0702 0.0591 0.0556
    """
)

SLEEP = numbers(
    """
    249.56 258.7047 250.8006 321.4398 356.8519 414.6901 382.2038 290.1486 430.5853 466.3535
    222.7339 205.2658 202.9778 204.707 207.7161 215.9618 213.6303 217.7272 224.2957 237.3142
    199.0539 194.3322 234.32 232.8416 229.3074 220.4579 235.4208 255.7511 261.0125 247.5153
    321.5426 300.4002 283.8565 285.133 285.7973 297.5855 280.2396 318.2613 305.3495 354.0487
    287.6079 285.0 301.8206 320.1153 316.2773 293.3187 290.075 334.8177 293.7469 371.5811
    234.8606 242.8118 272.9613 309.7688 317.4629 309.9976 454.1619 346.8311 330.3003 253.8644
    283.8424 289.555 276.7693 299.8097 297.171 338.1665 332.0265 348.8399 333.36 362.0428
    265.4731 276.2012 243.3647 254.6723 279.0244 284.1912 305.5248 331.5229 335.7469 377.299
    241.6083 273.9472 254.4907 270.8021 251.4519 254.6362 245.4523 235.311 235.7541 237.2466
    312.3666 313.8058 291.6112 346.1222 365.7324 391.8385 404.2601 416.6923 455.8643 458.9167
    236.1032 230.3167 238.9256 254.922 250.7103 269.7744 281.5648 308.102 336.2806 351.6451
    256.2968 243.4543 256.2046 255.5271 268.9165 329.7247 379.4445 362.9184 394.4872 389.0527
    250.5265 300.0576 269.8939 280.5891 271.8274 304.6336 287.7466 266.5955 321.5418 347.5655
    221.6771 298.1939 326.8785 346.8555 348.7402 352.8287 354.4266 360.4326 375.6406 388.5417
    271.9235 268.4369 257.2424 277.6566 314.8222 317.2135 298.1353 348.1229 340.28 366.5131
    225.264 234.5235 238.9008 240.473 267.5373 344.1937 281.1481 347.5855 365.163 372.2288
    269.8804 272.4428 277.8989 281.7895 279.1705 284.512 259.2658 304.6306 350.7807 369.4692
    269.4117 273.474 297.5968 310.6316 287.1726 329.6076 334.4818 343.2199 369.1417 364.1236
    """
)

DYE = numbers(
    """
    1545 1440 1440 1520 1580
    1540 1555 1490 1560 1495
    1595 1550 1605 1510 1560
    1445 1440 1595 1465 1545
    1595 1630 1515 1635 1625
    1520 1455 1450 1480 1445
    """
)

PEN = numbers(
    """
    27 23 26 23 23 21
    27 23 26 23 23 21
    25 21 25 24 24 20
    26 23 25 23 23 20
    25 22 26 22 23 20
    24 22 25 23 22 19
    24 20 23 21 22 19
    26 22 26 24 24 21
    24 21 24 22 22 20
    24 21 24 23 22 19
    26 23 26 24 24 21
    25 22 26 24 24 20
    26 24 26 24 25 22
    26 23 26 23 23 20
    26 23 25 24 24 22
    25 22 25 23 23 20
    25 21 24 23 23 20
    25 22 24 23 23 19
    24 21 23 21 21 19
    26 23 26 24 24 21
    25 21 24 22 22 18
    25 22 25 22 22 20
    24 21 24 22 24 19
    24 21 24 22 21 18
    """
)

STACK = numbers(
    """
    42 80 27 89
    37 80 27 88
    37 75 25 90
    28 62 24 87
    18 62 22 87
    18 62 23 87
    19 62 24 93
    20 62 24 93
    15 58 23 87
    14 58 18 80
    14 58 18 89
    13 58 17 88
    11 58 18 82
    12 58 19 93
    8 50 18 89
    7 50 18 86
    8 50 19 72
    8 50 19 79
    9 50 20 80
    15 56 20 82
    15 70 20 91
    """
)


def pigs() -> tuple[Floats, Floats, list[str]]:
    """Return weight, time and pig of the 861 rows of dietox, as they come with statsmodels."""
    found = find_spec("statsmodels")
    assert found is not None
    assert found.origin is not None
    path = Path(found.origin).parent / "regression" / "tests" / "results" / "dietox.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]  # the row's name, weight, feed, time, pig, and more
    return (
        np.array([float(row[1]) for row in rows]),
        np.array([float(row[3]) for row in rows]),
        [row[4] for row in rows],
    )


def test_a_level_and_a_slope_for_each_sleeper() -> None:
    """Documentation of lme4: Reaction ~ Days + (Days | Subject), sleepstudy, REML."""
    days, people = np.tile(np.arange(10.0), 18), np.repeat(np.arange(18), 10)
    x = np.column_stack([np.ones(180), days])
    ones = indicator(people.tolist())
    z = (ones[:, :, None] * x[:, None, :]).reshape(180, -1)
    _, sigma2, g, _, _ = fit_groups(SLEEP.ravel(), days, [str(one) for one in people], slopes=True)
    found = dense(SLEEP.ravel(), x, z, np.kron(np.eye(18), g).astype(np.float64), sigma2 * np.eye(180))
    assert found.reml == pytest.approx(1743.628, abs=1e-3)
    assert found.fixed == pytest.approx([251.405, 10.467], abs=1e-3)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx([6.825, 1.546], abs=1e-3)
    assert np.sqrt(np.diag(g)) == pytest.approx([24.741, 5.922], abs=1e-3)
    assert g[0, 1] / sqrt(g[0, 0] * g[1, 1]) == pytest.approx(0.066, abs=1e-3)
    assert sqrt(sigma2) == pytest.approx(25.592, abs=1e-3)


def test_six_batches_of_dyestuff() -> None:
    """Test suites of lme4 and its Julia sibling: Yield ~ 1 + (1 | Batch), REML, a fleet of six."""
    z = indicator(np.repeat(np.arange(6), 5).tolist())
    found, sigma2, at = best(DYE.ravel(), np.ones((30, 1)), z, lambda p: variances(p, [6]), [0.0])
    assert found.reml == pytest.approx(319.65427684, abs=1e-7)
    assert found.fixed == pytest.approx([1527.5], abs=1e-3)
    assert [sqrt(sigma2 * exp(at[0])), sqrt(sigma2)] == pytest.approx([42.00, 49.51], abs=0.005)


def test_plates_and_samples_of_penicillin_crossed() -> None:
    """Test suite of lme4's Julia sibling: diameter ~ 1 + (1 | plate) + (1 | sample), ML; as units and instruments."""
    plate, sample = np.repeat(np.arange(24), 6), np.tile(np.arange(6), 24)
    z = np.column_stack([indicator(plate.tolist()), indicator(sample.tolist())])
    start = [0.0, 2.0]
    found, sigma2, at = best(PEN.ravel(), np.ones((144, 1)), z, lambda p: variances(p, [24, 6]), start, reml=False)
    assert found.ml == pytest.approx(332.18834867, abs=1e-7)
    assert found.fixed == pytest.approx([22.97222222], abs=1e-7)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx([0.74459603], abs=1e-5)
    assert np.sqrt(sigma2 * np.exp(at)) == pytest.approx([0.84556459, 1.77064778], abs=1e-4)
    assert sigma2 == pytest.approx(0.3024264, abs=1e-5)


def test_the_weights_of_pigs_with_a_level_each() -> None:
    """Test suite of statsmodels (test_lme.py), values from lme4: Weight ~ Time + (1 | Pig), REML."""
    weight, time, pig = pigs()
    loglik, sigma2, g, fixed, error = fit_groups(weight, time, pig, slopes=False)
    assert loglik == pytest.approx(-2404.775, abs=1e-3)
    assert fixed == pytest.approx([15.723523, 6.942505], abs=1e-5)
    assert error == pytest.approx([0.78805374, 0.03338727], abs=1e-5)
    assert [sigma2, g[0, 0]] == pytest.approx([11.36692, 40.39395], abs=1e-3)


def test_the_weights_of_pigs_with_a_level_and_a_slope_each() -> None:
    """The same with (1 + Time | Pig), where an optimiser may stop at -2220.39 with a slope variance of 0.483."""
    weight, time, pig = pigs()
    loglik, sigma2, g, fixed, error = fit_groups(weight, time, pig, slopes=True)
    assert loglik == pytest.approx(-2217.047, abs=1e-3)
    assert fixed == pytest.approx([15.73865, 6.939014], abs=1e-4)
    assert error == pytest.approx([0.5501253, 0.0798254], abs=5e-4)
    assert sigma2 == pytest.approx(6.03745, abs=0.006)
    assert [g[0, 0], g[0, 1], g[1, 1]] == pytest.approx([19.4934552, 0.2938323, 0.416062], abs=0.01)


def fit_groups(
    weight: Floats, time: Floats, pig: list[str], *, slopes: bool
) -> tuple[float, float, Floats, Floats, Floats]:
    """Return log likelihood, residual variance, G of one group, fixed effects and their errors, group by group."""
    names = np.array(pig)
    x = np.column_stack([np.ones(len(time)), time])
    groups = [np.flatnonzero(names == name) for name in sorted(set(pig))]
    parts = [(x[each], weight[each]) for each in groups]

    def scaled(at: Floats) -> Floats:
        return level_and_slope(at, 1) if slopes else np.diag([exp(2 * at[0]), 0.0])

    def sums(at: Floats) -> tuple[Floats, Floats, float, float]:
        normal, right, square, volume = np.zeros((2, 2)), np.zeros(2), 0.0, 0.0
        for rows, values in parts:
            v = rows @ scaled(at) @ rows.T + np.eye(len(values))
            whitened = np.linalg.solve(v, np.column_stack([rows, values]))
            normal += rows.T @ whitened[:, :2]
            right += rows.T @ whitened[:, 2]
            square += float(values @ whitened[:, 2])
            volume += float(np.linalg.slogdet(v)[1])
        return normal, right, square - float(right @ np.linalg.solve(normal, right)), volume

    def criterion(at: Floats) -> float:
        normal, _, rest, volume = sums(at)
        free = len(weight) - 2
        return volume + float(np.linalg.slogdet(normal)[1]) + free * (log(2 * pi * rest / free) + 1)

    at = simplex(criterion, np.array([0.5, 0.0, -1.0]) if slopes else np.array([0.5]))
    normal, right, rest, _ = sums(at)
    sigma2 = rest / (len(weight) - 2)
    error: Floats = np.sqrt(np.diag(np.linalg.inv(normal)) * sigma2).astype(np.float64)
    return (
        -criterion(at) / 2,
        sigma2,
        sigma2 * scaled(at),
        np.asarray(np.linalg.solve(normal, right), dtype=float),
        error,
    )


def test_the_three_levels_of_a_gauge_study() -> None:
    """NIST/SEMATECH e-Handbook, 2.6.3, probe 2362, file MPC61: days and runs pooled over wafers, from memory.

    Rows: wafers 138 to 142 of run 1, then of run 2; six days each. The first level, repeatability, is recomputed.
    """
    by_run = GAUGE_AVERAGE.reshape(2, 5, 6)
    assert sqrt(float((GAUGE_SD**2).mean())) == pytest.approx(0.07287, abs=5e-6)
    assert sqrt(float(by_run.var(axis=2, ddof=1).mean())) == pytest.approx(0.0362, abs=5e-5)
    assert sqrt(float(by_run.mean(axis=2).var(axis=0, ddof=1).mean())) == pytest.approx(0.0197, abs=1e-4)


def test_stack_loss_by_huber() -> None:
    """Test suite of statsmodels (results_rlm.py), values from rlm of MASS: Huber 1.345 with the median deviation.

    The loop stands here: least squares weighed anew by each residual until nothing moves, points 3, 4 and 21 held down.
    """
    y, x = STACK[:, 0], np.column_stack([np.ones(21), STACK[:, 1:]])
    weight, scale = np.ones(21), 1.0
    for _ in range(200):
        root = np.sqrt(weight)
        b = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
        rest = y - x @ b
        scale = float(np.median(np.abs(rest))) / 0.674489750196082
        weight = np.minimum(1.0, 1.345 * scale / np.maximum(np.abs(rest), 1e-300))
    assert b == pytest.approx([-41.02653105, 0.82937387, 0.92610818, -0.12784916], abs=0.002)
    assert scale == pytest.approx(2.44071379, abs=0.002)
    assert weight[[2, 3, 20]] == pytest.approx([0.7858871, 0.50494094, 0.36814106], abs=0.001)

"""Reading study against the crossed example of Measurement Systems Analysis, reference manual, 4th ed., 2010.

Ten parts, three appraisers, three trials.
"""

import numpy as np
import pytest

from pinscar.stats.reading_study import reading_study

# Rows: trials 1 to 3; columns: parts 1 to 10.
READINGS = {
    "A": ".29 -.56 1.34 .47 -.80 .02 .59 -.31 2.26 -1.36 .41 -.68 1.17 .50 -.92 -.11 .75 -.20 1.99 -1.25 "
    ".64 -.58 1.27 .64 -.84 -.21 .66 -.17 2.01 -1.31",
    "B": ".08 -.47 1.19 .01 -.56 -.20 .47 -.63 1.80 -1.68 .25 -1.22 .94 1.03 -1.20 .22 .55 .08 2.12 -1.62 "
    ".07 -.68 1.34 .20 -1.28 .06 .83 -.34 2.19 -1.50",
    "C": ".04 -1.38 .88 .14 -1.46 -.29 .02 -.46 1.77 -1.49 -.11 -1.13 1.09 .20 -1.07 -.67 .01 -.56 1.45 "
    "-1.77 -.15 -.96 .67 .11 -1.45 -.49 .21 -.49 1.87 -2.16",
}
CUBE = np.array([np.array(text.split(), float).reshape(3, 10).T for text in READINGS.values()])

TABLE = {  # sum of squares, degrees of freedom, mean square; printed digits
    "reader": (3.167262, 2, 1.583631),
    "scar": (88.361934, 9, 9.817993),
    "interaction": (0.358982, 18, 0.0199435),
    "repeats": (2.758933, 60, 0.0459822),
}


@pytest.mark.parametrize("source", list(TABLE))
def test_table(source):
    """Each row of the table has the printed squares and degrees of freedom."""
    squares, df, mean_square = TABLE[source]
    row = {row.source: row for row in reading_study(CUBE).table}[source]
    assert row.df == df
    assert row.sum_of_squares == pytest.approx(squares, abs=5.1e-7)
    assert row.mean_square == pytest.approx(mean_square, rel=1e-6, abs=5.1e-7)


def test_total_and_tests():
    """Total, F values and p values are the printed ones."""
    rows = {row.source: row for row in reading_study(CUBE).table}
    assert rows["total"].sum_of_squares == pytest.approx(94.647112, abs=5.1e-7)
    assert rows["interaction"].f == pytest.approx(0.43372, abs=5.1e-6)
    assert rows["interaction"].p == pytest.approx(0.97411, abs=5.1e-6)
    assert rows["reader"].f == pytest.approx(39.6172, abs=5.1e-5)
    assert rows["scar"].f == pytest.approx(245.6139, abs=5.1e-5)


@pytest.mark.parametrize(
    ("source", "variance"),
    [("repeats", 0.0399733), ("reader", 0.0514553), ("reading", 0.0914285), ("scar", 1.0864466),
     ("total", 1.1778751)],
)  # fmt: skip
def test_pooled_components(source, variance):
    """Pooled variance components are the printed ones and lie inside their limits."""
    study = reading_study(CUBE)
    assert study.pooled
    component = {c.source: c for c in study.components}[source]
    assert component.variance == pytest.approx(variance, abs=5.1e-8)
    assert component.low < variance < component.high


def test_shares_and_categories():
    study = reading_study(CUBE)
    reading = {c.source: c for c in study.components}["reading"]
    assert 100 * reading.share_of_variance == pytest.approx(7.7622, abs=5.1e-5)
    assert 100 * reading.share_of_sd == pytest.approx(27.8607, abs=5.1e-5)
    assert study.category_ratio == pytest.approx(4.8605, abs=5.1e-5)
    assert study.distinct_categories == 4


@pytest.mark.parametrize(
    ("source", "variance"),
    [("repeats", 0.0459822), ("interaction", 0.0), ("reader", 0.0521229), ("scar", 1.0886721)],
)
def test_unpooled_components(source, variance):
    """Without pooling the components agree with independent arithmetic."""
    # Source: data of AIAG, Measurement Systems Analysis, 4th ed.; components without pooling by independent
    # arithmetic.
    study = reading_study(CUBE, pool_above=1.0)
    assert not study.pooled
    assert {c.source: c.variance for c in study.components}[source] == pytest.approx(variance, abs=5.1e-8)


def test_a_second_library_agrees_on_the_table():
    import pandas as pd
    import statsmodels.formula.api as smf
    from statsmodels.stats.anova import anova_lm

    index = np.indices(CUBE.shape).reshape(3, -1)
    frame = pd.DataFrame({"y": CUBE.ravel(), "reader": index[0], "scar": index[1]})
    other = anova_lm(smf.ols("y ~ C(reader) * C(scar)", frame).fit())
    rows = {row.source: row for row in reading_study(CUBE).table}
    names = {
        "reader": "C(reader)",
        "scar": "C(scar)",
        "interaction": "C(reader):C(scar)",
        "repeats": "Residual",
    }
    for source, name in names.items():
        assert rows[source].sum_of_squares == pytest.approx(other.loc[name, "sum_sq"], rel=1e-9, abs=0)
        assert rows[source].df == other.loc[name, "df"]

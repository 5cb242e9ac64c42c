"""Repeatability and reproducibility against the glucose study of ASTM E691."""

import math

import pytest

from pinscar.stats.precision import critical_h, critical_k, precision_study

# Glucose in serum, 8 laboratories x 5 materials x 3 results, mg/dL. Data as in R package ILS 0.3, which cites
# ASTM E691-99. Laboratories 1 to 8 in order.
GLUCOSE = {
    "A": "41.03 41.45 41.37 | 41.17 42.00 41.15 | 41.01 40.68 42.66 | 39.37 42.37 42.63 | 41.88 41.19 41.32"
    " | 43.28 40.50 42.28 | 41.08 41.27 39.02 | 43.36 42.65 41.72",
    "B": "78.28 78.18 78.49 | 77.78 80.38 79.54 | 79.18 79.72 80.81 | 84.08 78.80 80.01 | 78.16 79.58 78.33"
    " | 78.66 79.27 81.75 | 79.75 81.45 77.35 | 80.44 80.80 79.80",
    "C": "132.66 133.83 133.10 | 132.92 136.90 136.40 | 132.61 135.80 135.36 | 138.50 148.30 135.69"
    " | 131.90 134.14 133.76 | 137.21 135.14 137.50 | 130.97 131.59 134.92 | 135.46 135.14 133.53",
    "D": "193.71 193.59 193.65 | 190.88 200.14 194.30 | 192.71 193.28 190.28 | 195.85 196.36 199.43"
    " | 192.59 191.44 195.12 | 195.34 198.26 198.13 | 194.66 191.99 187.13 | 197.56 195.99 200.82",
    "E": "292.78 294.09 292.89 | 292.27 309.40 295.08 | 295.53 290.14 292.34 | 295.19 295.44 296.83"
    " | 293.93 292.48 294.28 | 297.74 296.80 290.33 | 287.29 293.76 289.36 | 298.46 295.28 296.12",
}

# Derived from the data with the formulas of E691 by separate code; the standard's own table was not seen.
# Material: mean, s_x, s_r, s_R, 2.8 s_r, 2.8 s_R, h and k of laboratories 1 to 8.
EXPECTED = {
    "A": (41.51833, 0.60613, 1.06322, 1.06322, 2.977, 2.977,
          [-.39, -.13, -.11, -.10, -.09, .83, -1.75, 1.75], [.21, .46, 1.00, 1.70, .34, 1.32, 1.17, .77]),
    "B": (79.60792, 0.86273, 1.49607, 1.49607, 4.189, 4.189,
          [-1.50, -.43, .34, 1.57, -1.06, .33, -.11, .86], [.11, .89, .56, 1.85, .52, 1.09, 1.38, .34]),
    "C": (135.13875, 2.65669, 2.75088, 3.47892, 7.702, 9.741,
          [-.73, .10, -.21, 2.14, -.70, .56, -1.00, -.16], [.21, .79, .63, 2.41, .44, .47, .77, .38]),
    "D": (194.71708, 2.59500, 2.62507, 3.36571, 7.350, 9.424,
          [-.41, .15, -1.01, .96, -.64, .97, -1.33, 1.31], [.02, 1.78, .61, .74, .72, .63, 1.45, .94]),
    "E": (294.49208, 2.69314, 3.93497, 4.19233, 11.018, 11.739,
          [-.46, 1.64, -.68, .49, -.34, .17, -1.62, .79], [.18, 2.33, .69, .22, .24, 1.03, .84, .42]),
}  # fmt: skip


def glucose_study():
    rows = [
        (f"L{lab}", material, float(value))
        for material, text in GLUCOSE.items()
        for lab, cell in enumerate(text.split("|"), start=1)
        for value in cell.split()
    ]
    return {result.material: result for result in precision_study(*zip(*rows, strict=True))}


@pytest.mark.parametrize("material", list(EXPECTED))
def test_glucose_study(material):
    """Every statistic of the glucose study is the printed one."""
    mean, s_x, s_r, s_reproducibility, limit_r, limit_reproducibility, h, k = EXPECTED[material]
    result = glucose_study()[material]
    assert result.general_mean == pytest.approx(mean, abs=5.1e-6)
    assert result.sd_of_cell_means == pytest.approx(s_x, abs=5.1e-6)
    assert result.repeatability_sd == pytest.approx(s_r, abs=5.1e-6)
    assert result.reproducibility_sd == pytest.approx(s_reproducibility, abs=5.1e-6)
    assert result.repeatability_limit == pytest.approx(limit_r, abs=5.1e-4)
    assert result.reproducibility_limit == pytest.approx(limit_reproducibility, abs=5.1e-4)
    assert [cell.h for cell in result.cells] == pytest.approx(h, abs=5.1e-3)
    assert [cell.k for cell in result.cells] == pytest.approx(k, abs=5.1e-3)


def test_glucose_study_flags_two_cells_for_their_spread():
    flags = {(m, c.laboratory): c.flagged for m, r in glucose_study().items() for c in r.cells if c.flagged}
    assert flags == {("C", "L4"): ("k",), ("E", "L2"): ("k",)}


@pytest.mark.parametrize(
    ("p", "n", "h", "k"), [(8, 3, 2.15, 2.06), (6, 2, 1.92, 2.22), (10, 4, 2.29, 1.93), (3, 2, 1.15, 1.72)]
)
def test_critical_values(p, n, h, k):
    """ASTM E691, table of critical values at 0.5 % (printed values from memory, re-derived from t and F)."""
    from scipy.stats import f

    assert critical_h(p) == pytest.approx(h, abs=5.1e-3)
    assert critical_k(n - 1, p * (n - 1)) == pytest.approx(k, abs=5.1e-3)
    by_f = math.sqrt(p / (1 + (p - 1) / f.ppf(0.995, n - 1, (p - 1) * (n - 1))))
    assert critical_k(n - 1, p * (n - 1)) == pytest.approx(by_f, rel=1e-9, abs=0)

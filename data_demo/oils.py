"""The truth about the invented oils, shared by the demo campaigns."""

from __future__ import annotations

from bench import Oil, Scatter

SCATTER = Scatter()

#: Film pressure at 450 N [Pa], its loss per newton above [1/N], wear coefficient [m^2/N], fling [kg], drips,
#: friction coefficient. C-21 leaves a scar about 40 % smaller than R-10 and flings about twice as much.
OILS = {
    "R-10": Oil(74e6, 3.0e-4, 5.4e-14, 18e-6, 1.2, 0.085),
    "B-05": Oil(24e6, 1.8e-3, 5.0e-13, 26e-6, 1.8, 0.105, smokes_early=22.0),
    "C-18": Oil(79e6, 3.0e-4, 5.0e-14, 17e-6, 1.0, 0.085),
    "C-19": Oil(92e6, 3.0e-4, 4.0e-14, 21e-6, 1.4, 0.083),
    "C-20": Oil(101e6, 3.0e-4, 3.4e-14, 23e-6, 1.3, 0.082),
    "C-21": Oil(124e6, 3.0e-4, 2.6e-14, 34e-6, 2.4, 0.080),
    "C-22": Oil(78e6, 3.0e-4, 5.0e-14, 20e-6, 1.0, 0.085),
    "H-11": Oil(86e6, 3.0e-4, 4.4e-14, 7e-6, 0.3, 0.090),
    "H-12": Oil(112e6, 3.0e-4, 3.0e-14, 8e-6, 0.4, 0.088),
}

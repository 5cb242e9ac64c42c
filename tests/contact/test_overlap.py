"""The volume of crossed cylinders with few nodes for shallow cuts, and in pieces."""

from __future__ import annotations

import numpy as np

from pinscar.contact import overlap


def test_shallow_cuts_with_few_nodes_agree_with_many_for_any_pair_of_radii():
    rng = np.random.default_rng(3)
    pin, ring = 10 ** rng.uniform(-3, 0, (2, 5000))
    depth = np.minimum(pin, ring) * rng.uniform(0, 0.5, 5000)  # some shallow, some deep, in one call
    plain = overlap._volume(pin, ring, depth, (overlap._NODES, overlap._WEIGHTS))
    np.testing.assert_allclose(overlap.overlap_volume(pin, ring, depth), plain, rtol=1e-14)
    whole = overlap.overlap_volume(pin.reshape(50, 100), ring.reshape(50, 100), depth.reshape(50, 100))
    assert whole.shape == (50, 100)
    assert overlap.overlap_volume(1.0, 1.0, []).shape == (0,)

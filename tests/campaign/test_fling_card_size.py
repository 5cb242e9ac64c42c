"""The size of a fling card in campaign.toml: read as people write it, or refused with its line and a mend."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pinscar.campaign.campaign import check_campaign, read_campaign
from pinscar.campaign.model import card_size


@pytest.mark.parametrize(
    "text",
    ["150 mm x 100 mm", "150mm x 100mm", "100 x 150 mm", "15 cm × 10 cm", "0.15 m x 100 mm"],
)
def test_sizes_are_read_longer_side_first(text):
    assert card_size(text) == pytest.approx((0.15, 0.10))


@pytest.mark.parametrize(
    ("text", "code", "mend"),
    [
        ('"150 mm"', "toml-not-a-quantity", "150 mm x 100 mm"),
        ('"150 x 100"', "toml-unit-missing", "both sides with their unit"),
        ('"150 mm x 100 N"', "toml-unit-wrong", "mm"),
        ('"0 mm x 100 mm"', "toml-out-of-range", "correct"),
        ('"15,0 cm x 10 cm"', "toml-quantity-unreadable", "decimals with a point"),
        ("150", "toml-not-a-quantity", "150 mm x 100 mm"),
        ('"150 mm x 100 mm x 2 mm"', "toml-not-a-quantity", "150 mm x 100 mm"),
    ],
)
def test_a_size_that_is_none_is_an_error_with_its_line(edited: Callable[..., Path], text, code, mend):
    folder = edited(
        "campaign.toml", ('ring_speed = "700 rpm"', f'ring_speed = "700 rpm"\nfling_card = {text}')
    )
    campaign, problems = check_campaign(folder)
    assert campaign is None
    assert [(one.code, one.row, one.column) for one in problems] == [(code, 10, "rig.fling_card")]
    assert mend in problems[0].mend
    assert problems[0].value == text.strip('"')


def test_a_size_that_no_card_has_is_a_warning(edited: Callable[..., Path]):
    folder = edited("campaign.toml", ("ring_speed", 'fling_card = "150 m x 100 mm"\nring_speed'))
    _, problems = check_campaign(folder)
    assert [(one.code, one.column, one.value) for one in problems] == [
        ("toml-value-unusual", "rig.fling_card", "150000 mm")
    ]


def test_cards_are_evidence_and_hashed(edited: Callable[..., Path]):
    folder = edited(
        "campaign.toml", ('ring_speed = "700 rpm"', 'fling_card = "150 mm x 100 mm"\nring_speed = "700 rpm"')
    )
    (folder / "fling").mkdir()
    (folder / "fling" / "h2.jpg").write_bytes(b"card")
    (folder / "fling" / "h9.jpg").write_bytes(b"card")
    campaign = read_campaign(folder)
    assert {"fling/h2.jpg", "fling/h9.jpg"} <= set(campaign.inputs)
    assert [(one.code, one.file) for one in campaign.problems] == [("evidence-unknown-run", "fling/h9.jpg")]

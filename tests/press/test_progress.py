"""One line over all campaigns while they are made, and a table at the end."""

from __future__ import annotations

import shutil

from pinscar.press.progress import Tally, table
from pinscar.press.request import Outcome, make_requests
from pinscar.press.template import read_template


def test_one_line_over_all(campaign, templates, tmp_path):
    shutil.copytree(campaign, tmp_path / "two")
    template = read_template(templates / "plain.ipynb")
    one, two = make_requests([campaign, tmp_path / "two"], template, {}, out=None, pdf=False, timeout=60)
    tally = Tally(2)
    assert tally.step(one, {"text": "cell 1 of 4"}) == f"0 of 2 done, {campaign}: cell 1 of 4"
    said = tally.step(two, {"text": "setting the PDF"})
    assert said == f"0 of 2 done, {campaign}: cell 1 of 4, {tmp_path / 'two'}: setting the PDF"
    assert tally.ended(Outcome(folder=str(campaign), report="x", status=1)) == (
        f"1 of 2 done, 1 failed, {tmp_path / 'two'}: setting the PDF"
    )
    assert Tally(1).step(one, {"text": "cell 1 of 4"}) == f"{campaign}: cell 1 of 4"


def test_the_table_has_each_verdict_time_and_what_failed():
    lines = table(
        [
            Outcome(folder="a", report="a/report", status=0, limits="not met (1 of 5)", seconds=61.24),
            Outcome(folder="longer", report="longer/report", status=0, seconds=3.0),
            Outcome(
                folder="b",
                report="b/report",
                status=4,
                errors=("template x, cell 2:\n broke", "more"),
                seconds=0.04,
            ),
        ]
    )
    assert lines == [
        "campaign  verdict           time    what failed",
        "a         not met (1 of 5)  61.2 s",
        "longer    made, no limits   3.0 s",
        "b         no report         0.0 s   template x, cell 2: broke (and 1 more)",
        "3 campaigns, 1 failed",
    ]


def test_it_goes_on_past_a_failing_one_and_ends_with_the_table(command, campaign, templates, tmp_path):
    good, bad = tmp_path / "good", tmp_path / "bad"
    shutil.copytree(campaign, good)
    shutil.copytree(campaign, bad)
    (bad / "runs.csv").unlink()
    done = command("report", bad, good, "--no-pdf", "-t", templates / "plain.ipynb", "--jobs", 2)
    assert done.returncode == 1
    lines = done.stdout.splitlines()
    assert lines[-1] == "2 campaigns, 1 failed"
    assert lines[-4].split()[:2] == ["campaign", "verdict"]
    assert lines[-3].startswith(f"{bad} ")
    assert "no report" in lines[-3]
    assert "runs" in lines[-3]
    assert lines[-2].startswith(f"{good} ")
    assert "made, no limits" in lines[-2]
    quiet = command("report", bad, good, "--no-pdf", "-q", "-t", templates / "plain.ipynb")
    assert quiet.stdout == ""

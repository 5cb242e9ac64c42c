"""What pinscar asks for is compared with what is installed."""

from __future__ import annotations

from importlib import metadata

import pytest
from packaging.requirements import Requirement

from pinscar.bench import doctor
from pinscar.bench import doctor as requirements
from pinscar.bench.doctor import asked_for, unmet


def test_what_is_asked_for_is_what_pyproject_states():
    named = {one.name: str(one.specifier) for one in asked_for()}
    assert {"numpy", "openpyxl", "packaging", "weasyprint"} <= named.keys()
    assert "pytest" not in named  # the tests' own
    assert all(bound.startswith(">=") for bound in named.values())


def test_without_a_checkout_the_metadata_tell(monkeypatch, tmp_path):
    monkeypatch.setattr(requirements, "PACKAGE", tmp_path / "lib" / "pinscar")
    stated = ["numpy>=1.26", "pytest>=8; extra == 'test'", "tomli>=2; python_version < '3.11'"]
    monkeypatch.setattr(metadata, "requires", lambda name: stated)
    assert [str(one) for one in asked_for()] == ["numpy>=1.26"]

    def unknown(name):
        raise metadata.PackageNotFoundError(name)

    monkeypatch.setattr(metadata, "requires", unknown)
    assert asked_for() is None
    assert not doctor.bounds().ok


@pytest.mark.parametrize(
    ("installed", "wanted", "told"),
    [
        ("1.9", "numpy>=1.10", "numpy 1.9 does not fit >=1.10"),
        ("1.10", "numpy>=1.9", None),  # compared as numbers, not letter by letter
        ("2.0rc1", "numpy>=1.26", None),
        ("1.26", "numpy>=1.26", None),
    ],
)
def test_versions_are_compared_as_versions(installed, wanted, told, monkeypatch):
    monkeypatch.setattr(metadata, "version", lambda name: installed)
    assert [str(one) for one in unmet([Requirement(wanted)])] == ([told] if told else [])


def test_the_doctor_lists_the_old_and_the_missing_in_one_line(monkeypatch):
    wanted = [Requirement("packaging>=9999"), Requirement("no-such-package>=1"), Requirement("numpy>=1")]
    monkeypatch.setattr(requirements, "asked_for", lambda: wanted)
    found = doctor.bounds()
    assert not found.ok
    assert "packaging" in found.found
    assert "does not fit >=9999, no-such-package not installed" in found.found
    assert found.mend == "pip install --upgrade 'packaging>=9999' 'no-such-package>=1'"

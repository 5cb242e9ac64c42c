"""The manifest names everything that the bytes of a report depend on."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

from pinscar.press import manifest as platform
from pinscar.press.manifest import make_manifest, manifest_bytes, manifest_digest

PYPROJECT = Path(__file__).resolve().parents[2] / "pyproject.toml"
# They carry text or messages of the kernel, colour the terminal, compare versions, serve a notebook by hand
# or stand for other packages named here; no byte depends on them.
WITHOUT_BYTES = {
    "typer",
    "rich",
    "filelock",
    "jupyter",
    "jupyter-client",
    "traitlets",
    "packaging",
    "ipympl",
}


@pytest.fixture
def manifest(templates):
    return make_manifest(
        campaign="c",
        template=templates / "plain.ipynb",
        given={"folder": "."},
        parameters={"folder": ".", "seed": 7},
        inputs={"runs.csv": "0" * 64},
        pdf=True,
    )


def test_every_package_that_makes_bytes_has_its_version():
    needed = tomllib.loads(PYPROJECT.read_text())["project"]["dependencies"]
    names = {re.split(r"[<>=!~ \[]", text)[0] for text in needed}
    versions = platform.package_versions()
    assert names - WITHOUT_BYTES <= set(versions)
    assert "not installed" not in versions.values()


def test_the_libraries_of_the_pdf_have_theirs():
    versions = platform.library_versions()
    assert set(versions) == {"pango", "harfbuzz"}
    assert all(re.fullmatch(r"\d+\.\d+\.\d+", version) for version in versions.values())


def test_the_digest_covers_all_but_itself_and_the_outputs(manifest):
    digest = manifest["digest"]
    assert manifest_digest({**manifest, "outputs": {"report.html": "1" * 64}, "digest": ""}) == digest
    for key in set(manifest) - {"digest"}:
        assert manifest_digest({**manifest, key: "changed"}) != digest, key


def test_written_it_reads_back_with_the_digests_of_its_outputs(manifest):
    written = json.loads(manifest_bytes(manifest, {"b": b"", "a": b"abc"}))
    assert {key: written[key] for key in manifest} == manifest
    # FIPS PUB 180-4's message "abc"; the empty message is in NIST's list of SHA-256 test vectors.
    assert written["outputs"] == {
        "a": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        "b": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    }
    assert (written["seed"], written["parameters"]["seed"]) == (7, 7)


def test_the_code_digest_follows_the_code(tmp_path, monkeypatch):
    package = tmp_path / "pinscar"
    package.mkdir()
    (package / "__init__.py").write_text("")
    monkeypatch.setattr(platform.pinscar, "__file__", str(package / "__init__.py"))
    digests = {platform.code_digest()}
    (package / "a.py").write_text("x = 1\n")
    digests.add(platform.code_digest())
    (package / "a.py").rename(package / "b.py")
    digests.add(platform.code_digest())
    (package / "b.py").write_text("x = 2\n")
    digests.add(platform.code_digest())
    assert len(digests) == 4

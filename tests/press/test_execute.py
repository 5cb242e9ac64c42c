"""Kernels come from their parent, forked where that is safe, and carry nothing from one run to the next."""

from __future__ import annotations

import json
import pkgutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pandas
import pytest

from pinscar.child import Child, child_environment
from pinscar.press.execute import TemplateError, run_template
from pinscar.press.private_folder import PrivateFolder
from pinscar.press.template import imported_modules, read_template
from pinscar.shipped import find_template, template_names

THREADED = "import threading, time\nthreading.Thread(target=time.sleep, args=(600,), daemon=True).start()\n"


def notebook(*sources):
    cells = [
        {
            "cell_type": "code",
            "execution_count": None,
            "id": f"c{i}",
            "metadata": {},
            "outputs": [],
            "source": text,
        }
        for i, text in enumerate(("folder = 'unset'", *sources))
    ]
    cells[0]["metadata"] = {"tags": ["parameters"]}
    return {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}


@pytest.fixture(scope="module")
def modules(tmp_path_factory):
    """A folder of modules that only a variable given on purpose leads to."""
    folder = tmp_path_factory.mktemp("modules")
    (folder / "quiet_module.py").write_text("STATE = []\n")
    (folder / "threaded_module.py").write_text(THREADED)
    return folder


@pytest.fixture(params=["quiet_module", "threaded_module"])
def run(request, modules, tmp_path):
    """Run cells in a kernel of a parent that has loaded a module: one that can be forked, one that cannot."""
    own = PrivateFolder()
    private = own.path
    parent = Child(
        "pinscar.press.kernel_parent",
        request.param,
        environment=child_environment(private) | {"PYTHONPATH": str(modules)},
        folder=private,
        log=private / "log",
    )

    def run(*sources):
        executed = run_template(
            notebook(*sources),
            "t",
            {"folder": "."},
            folder=tmp_path,
            kernel_parent=parent,
            private=Path(tempfile.mkdtemp(dir=private)),
            timeout=60,
        )
        return [
            "".join(
                output.get("text", output.get("data", {}).get("text/plain", "")) for output in cell["outputs"]
            )
            for cell in executed.cells
            if cell.cell_type == "code"
        ]

    run.forks = request.param == "quiet_module"
    yield run
    parent.end()
    own.remove()


def test_a_kernel_works_as_it_should_forked_or_plain(run, tmp_path):
    shown = run(
        "import json, os, sys\nprint(json.dumps([folder, os.getcwd(), 'quiet_module' in sys.modules]))",
        "print(os.environ['PYTHONHASHSEED'], os.environ['OPENBLAS_NUM_THREADS'], os.environ['TZ'])",
        "import pinscar; print(pinscar.__file__)",
        "import quiet_module; quiet_module.STATE.append(1); print(quiet_module.STATE)",
        "import matplotlib; print(matplotlib.get_backend().lower(), matplotlib.rcParams['lines.linewidth'])",
    )
    assert json.loads(shown[2]) == [".", str(tmp_path.resolve()), run.forks]
    assert shown[3].split() == ["0", "1", "UTC"]
    assert Path(shown[4].strip()) == Path(sys.modules["pinscar"].__file__)
    assert shown[5].strip() == "[1]"
    assert shown[6].split() == ["agg", "1.5"]
    # A second kernel of the same parent starts afresh.
    assert run("import quiet_module; print(quiet_module.STATE)")[2].strip() == "[]"


def test_a_module_in_the_campaign_folder_is_not_imported(run, tmp_path):
    (tmp_path / "colorsys.py").write_text("raise ImportError('picked up from the campaign folder')")
    assert run("import colorsys; print(colorsys.__name__)")[2].strip() == "colorsys"


def test_a_file_named_like_a_module_of_the_kernel_or_a_setting_of_its_libraries_is_not_read(run, tmp_path):
    for name in ("json", "secrets", "numpy", "sitecustomize"):
        (tmp_path / f"{name}.py").write_text("raise ImportError('picked up from the campaign folder')")
    (tmp_path / "matplotlibrc").write_text("lines.linewidth: 9\n")
    shown = run("import json, secrets, matplotlib; print(matplotlib.rcParams['lines.linewidth'])")
    assert shown[2].strip() == "1.5"


def test_a_failing_cell_keeps_what_ran_before(run):
    with pytest.raises(TemplateError, match=r"^template t, cell 3 \(c2\): KeyError: 'lost'$") as caught:
        run("print('seen')", "{}['lost']", "print('never')")
    outputs = [cell["outputs"] for cell in caught.value.notebook.cells]
    assert [len(output) for output in outputs] == [0, 0, 1, 1, 0]


def test_ids_come_through_the_run(run):
    with pytest.raises(TemplateError) as caught:
        run("1", "{}['lost']")
    ids = [cell["id"] for cell in caught.value.notebook.cells]
    assert (ids[0], ids[2:]) == ("c0", ["c1", "c2"])


def test_a_syntax_error_names_no_file_of_the_kernel(run):
    with pytest.raises(TemplateError, match=r"SyntaxError: invalid syntax \(line 1\)"):
        run("for")


def kernel_says(modules, source, tmp_path):
    """What a cell prints in a kernel whose parent has loaded these modules."""
    own = PrivateFolder()
    private = own.path
    parent = Child(
        "pinscar.press.kernel_parent",
        *modules,
        environment=child_environment(private),
        folder=private,
        log=private / "log",
    )
    try:
        where = {"folder": tmp_path, "private": private, "timeout": 60}
        executed = run_template(notebook(source), "t", {}, kernel_parent=parent, **where)
    finally:
        parent.end()
        own.remove()
    return "".join(output["text"] for output in executed.cells[-1]["outputs"]).split()


@pytest.mark.skipif(sys.platform != "linux", reason="kernels are forked on Linux only")
def test_kernels_of_all_templates_are_forked_where_every_extra_is_installed(tmp_path):
    assert {"pyarrow", "distributed", "av"} <= {one.name for one in pkgutil.iter_modules()}
    found = sorted({one for name in template_names() for one in read_template(find_template(name)).modules})
    source = "import sys; print(*sys.modules)"
    loaded = kernel_says(found, source, tmp_path)
    # A plain kernel would have loaded none of these before its first cell.
    assert "pinscar.campaign_report.sections" in loaded
    assert "pandas" in loaded
    assert "pyarrow.lib" not in loaded


def test_a_template_may_use_parquet_through_pandas(tmp_path):
    source = (
        "import pandas, io; held = io.BytesIO(); pandas.DataFrame({'a': [1.5, 2]}).to_parquet(held); "
        "print(pandas.read_parquet(held, dtype_backend='pyarrow')['a'].sum())"
    )
    modules = imported_modules(notebook(source))
    assert kernel_says(modules, source, tmp_path) == ["3.5"]


def test_a_parquet_file_of_a_campaign_is_read_where_pandas_goes_without(tmp_path):
    pandas.DataFrame({"time [s]": [0.5, 1], "note": ["a", None]}).to_parquet(tmp_path / "a.parquet")
    source = (
        "from pathlib import Path; from pinscar.campaign.parquet import read_parquet; import sys, pandas; "
        "print('pyarrow' in sys.modules and sys.modules['pyarrow'] is not None); "
        f"table = read_parquet(Path({str(tmp_path / 'a.parquet')!r}), 'a')[0]; print(len(table.rows))"
    )
    assert kernel_says(["pinscar.campaign.parquet", "pandas"], source, tmp_path) == ["False", "2"]


def test_the_worker_reads_notebooks_without_a_grammar_of_web_addresses():
    code = (
        "import sys; from pinscar.child import skip_unused_imports; skip_unused_imports(); "
        "import papermill, nbformat; from nbformat import v4; "
        "nbformat.validate(v4.new_notebook(cells=[v4.new_code_cell('1', id='one')])); "
        "print([name for name in sys.modules if name.startswith(('rfc3987_syntax.', 'lark'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"

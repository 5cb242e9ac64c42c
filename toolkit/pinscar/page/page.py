"""Turn an executed notebook into one page that stands alone, by nbconvert and the template templates/page."""

from __future__ import annotations

import base64
import hashlib
from typing import TYPE_CHECKING, Any

import mistune
from markupsafe import Markup

from pinscar.errors import visible
from pinscar.language.markup import said_page, said_script
from pinscar.page import fonts
from pinscar.page.cautions import MEANING
from pinscar.page.formula import mute_formulas, replace_formulas
from pinscar.page.markup import tie_names
from pinscar.page.outline import held_kinds, page_parts, second_half
from pinscar.shipped import OWN, shipped_folder

if TYPE_CHECKING:
    from pinscar.language.speaker import Speaker

_TEMPLATE = "page"


def notebook_to_html(
    notebook: Any,
    *,
    title: str,
    campaign_id: str,
    mark: str = "",
    language: str = OWN,
    paper: str = "A4",
    speaker: Speaker | None = None,
) -> str:
    """Return the page of an executed notebook.

    Shown are Markdown cells and those outputs of code cells that are HTML or Markdown; code, streams and
    plain results are not. The page carries its font and stylesheet and asks nothing of a network; its only
    script sorts the tables that ask for it, and its content security policy lets no other run. The same
    notebook gives the same page.

    Examples
    --------
    >>> import nbformat.v4 as v4
    >>> page = notebook_to_html(v4.new_notebook(cells=[v4.new_markdown_cell("## Runs")]), title="Oils",
    ...                         campaign_id="c-1")
    >>> "<title>Oils (c-1)</title>" in page, "<script" in page
    (True, False)
    """
    from nbconvert.exporters.templateexporter import TemplateExporter

    folder = shipped_folder("templates") / _TEMPLATE
    exporter = TemplateExporter(  # type: ignore[no-untyped-call]
        template_name=_TEMPLATE,
        template_file="index.html.j2",
        template_paths=[str(folder)],
        extra_template_basedirs=[str(folder.parent)],
        default_preprocessors=[],
        filters={
            "markdown": render_markdown,
            "shown": shown_output,
            "page_parts": page_parts,
            "held_kinds": held_kinds,
            "second_half": second_half,
            "script_source": script_source,
            "tie_names": tie_names,
            "mute_formulas": mute_formulas,
            "said_script": lambda script: script if speaker is None else said_script(script, speaker),
            "said": lambda text: text if speaker is None else speaker.say(text),
        },
    )
    page = {
        "title": title,
        "campaign_id": campaign_id,
        "language": language,
        "paper": paper,
        "mark": mark,
        "mark_meaning": MEANING[mark],
        "font_face": fonts.font_face_css(embedded=True),
        "family": fonts.FAMILY,
    }
    html, _ = exporter.from_notebook_node(notebook, resources={"page": page})
    if speaker is not None:
        html = tie_names(said_page(str(html), speaker))
    # Whatever a template shows: what cannot be seen, or turns the direction of writing, shows as a code.
    return visible(str(html))


def render_markdown(text: str) -> str:
    """Return Markdown as HTML, with its formulas as images.

    Examples
    --------
    >>> print(render_markdown("about **36 %** smaller"), end="")
    <p>about <strong>36 %</strong> smaller</p>
    """
    rendered = mistune.create_markdown(escape=False)(replace_formulas(text))
    assert isinstance(rendered, str)  # the HTML renderer returns text
    return rendered


def shown_output(output: Any) -> Markup:
    """Return what the page shows of one output of a code cell.

    Examples
    --------
    >>> shown_output({"output_type": "stream", "name": "stderr", "text": "a warning"})
    Markup('')
    """
    if output["output_type"] == "error":
        raise ValueError(f"a cell ended in an error: {output.get('ename')}: {output.get('evalue')}")
    data = output.get("data", {})
    if "text/html" in data:
        return Markup(_joined(data["text/html"]))
    if "text/markdown" in data:
        return Markup(render_markdown(_joined(data["text/markdown"])))
    if pictures := [mime for mime in data if mime.startswith("image/")]:
        raise ValueError(f"an output is a bare {pictures[0]} without alt text; use style.figure_html")
    return Markup("")


def script_source(script: str) -> str:
    """Return what the content security policy of a page says of scripts.

    Examples
    --------
    >>> script_source("")
    "'none'"
    >>> script_source("alert('Hello, world.');")  # the specification's own example
    "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"
    """
    if not script:
        return "'none'"
    return f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode('ascii')}'"


def _joined(text: str | list[str]) -> str:
    return text if isinstance(text, str) else "".join(text)

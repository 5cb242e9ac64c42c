"""The page in a real browser, on a desk and on a phone: quiet, whole, and never wider than the screen."""

import pytest

pytestmark = pytest.mark.page


@pytest.fixture(scope="module")
def address(sample_page, tmp_path_factory):
    file = tmp_path_factory.mktemp("page") / "report.html"
    file.write_text(sample_page, encoding="utf-8")
    return file.as_uri()


@pytest.fixture(params=[1280, 390])
def width(request):
    return request.param


@pytest.fixture
def opened(browser, address, width):
    """The page at a width, with all that it said and asked for."""
    tab = browser.new_page(viewport={"width": width, "height": 900})
    tab.said, tab.asked = [], []
    tab.on("console", lambda message: tab.said.append(message.text))
    tab.on("pageerror", lambda error: tab.said.append(str(error)))
    tab.on("request", lambda request: tab.asked.append(request.url))
    tab.goto(address)
    tab.evaluate("document.fonts.ready")
    yield tab
    tab.close()


def test_it_is_quiet_and_asks_for_nothing(opened, address):
    assert opened.said == []
    assert [url for url in opened.asked if url != address and not url.startswith("data:")] == []


def test_every_picture_is_drawn(opened):
    widths = opened.evaluate("[...document.images].map(image => image.naturalWidth)")
    assert len(widths) > 6
    assert min(widths) > 0


def test_the_bundled_face_is_used(opened):
    loaded = "[...document.fonts].filter(face => face.status == 'loaded').map(face => face.family)"
    assert "Pinscar Text" in opened.evaluate(loaded)[0]


def test_the_page_is_never_wider_than_the_screen(opened, width):
    assert opened.evaluate("document.documentElement.scrollWidth") == width
    # What is wider sits in a box of its own that scrolls.
    stray = """[...document.querySelectorAll('main *')].filter(element =>
        !element.closest('.box, .card') && element.getBoundingClientRect().right > innerWidth + 1).length"""
    assert opened.evaluate(stray) == 0


def test_text_in_figures_stays_readable(opened):
    # Figures are drawn with text of 8 pt or more: 10.7 px at their natural size.
    scales = opened.evaluate(
        "[...document.querySelectorAll('.figure img')].map(image => image.clientWidth / image.naturalWidth)"
    )
    assert min(scales) * 8 * 96 / 72 >= 9


def test_decimal_marks_stand_under_one_another(opened):
    positions = opened.evaluate(
        r"""[...document.querySelectorAll('table')].flatMap(table => {
          const columns = {};
          for (const cell of table.querySelectorAll('tbody td.number, tbody td.interval')) {
            const text = cell.firstChild, found = /^[^\d]*\d*(?=[.\u2008])/.exec(text.data);
            if (!found) continue;
            const range = document.createRange();
            range.setStart(text, 0); range.setEnd(text, found[0].length);
            (columns[cell.cellIndex] ??= []).push(range.getBoundingClientRect().right);
          }
          return Object.values(columns);
        })"""
    )
    assert len(positions) >= 7
    assert all(max(column) - min(column) < 0.6 for column in positions)


def test_inline_formulas_do_not_push_lines_apart(opened):
    heights = opened.evaluate(
        "[...document.querySelectorAll('p img.formula')].map(image => image.getBoundingClientRect().height)"
    )
    assert heights
    assert max(heights) < 1.55 * 16


def test_a_keyboard_reaches_the_content_first_and_every_scrolling_box(opened):
    opened.keyboard.press("Tab")
    assert opened.evaluate("document.activeElement.className") == "skip"
    boxes = """[...document.querySelectorAll('.box, .card')].filter(
        box => box.scrollWidth > box.clientWidth && box.tabIndex < 0).length"""
    assert opened.evaluate(boxes) == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_has_contrast_in_both_schemes(browser, address, scheme):
    tab = browser.new_page(viewport={"width": 1280, "height": 900}, color_scheme=scheme)
    tab.goto(address)
    pairs = tab.evaluate(
        """[...document.querySelectorAll('p, h1, h2, td, th, caption, .unit, .label, .mark')].map(element => {
          let under = element;
          while (getComputedStyle(under).backgroundColor == 'rgba(0, 0, 0, 0)') under = under.parentElement;
          return [getComputedStyle(element).color, getComputedStyle(under).backgroundColor];
        })"""
    )
    tab.close()
    assert len(pairs) > 100
    assert min(ratio(*pair) for pair in set(map(tuple, pairs))) >= 4.5


def ratio(ink, paper):
    """Contrast of two CSS colours (WCAG 2.2)."""

    def luminance(colour):
        channels = [int(part) / 255 for part in colour.removeprefix("rgb(").removesuffix(")").split(",")]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    bright, dark = sorted((luminance(ink), luminance(paper)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_it_prints_on_a4_with_the_run_table_turned(browser, address):
    import io

    import pypdf

    tab = browser.new_page()
    tab.goto(address)
    printed = pypdf.PdfReader(io.BytesIO(tab.pdf(prefer_css_page_size=True)))
    tab.close()
    sizes = [(float(page.mediabox.width), float(page.mediabox.height)) for page in printed.pages]
    # A4 is 595.3 by 841.9 points.
    assert sizes[0] == pytest.approx((595, 842), abs=1)
    assert sizes[-1] == pytest.approx((842, 595), abs=1)
    assert "Skip to the content" not in printed.pages[0].extract_text()

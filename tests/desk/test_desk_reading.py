"""Reading scars by hand: what a drag does, who sees what, and what is saved; without a browser."""

from __future__ import annotations

import csv
import html
import re
import shutil
import subprocess
import sys
from itertools import pairwise

import ipywidgets
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

import pinscar
from pinscar.campaign.campaign import check_campaign
from pinscar.decision.media import read_picture
from pinscar.desk import scar_round
from pinscar.desk.scar_canvas import (
    LINE,
    ScarCanvas,
    dragged,
    grabbed,
    handle_points,
    numbers_of,
    with_number,
)
from pinscar.desk.scar_reading import ReadingDesk
from pinscar.desk.scar_round import blind_codes, shuffled
from pinscar.errors import InputError, UsageError
from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.scar_image import measure_scar
from pinscar.page.style import LENGTHS_MM, bar_length

SIZE = (480, 360)
inside = st.floats(60.0, 300.0)
ovals = st.builds(Ellipse, inside, inside, st.floats(20.0, 90.0), st.floats(15.0, 80.0), st.floats(-0.7, 0.7))
steps = st.tuples(st.floats(-25.0, 25.0), st.floats(-25.0, 25.0))
ENDS = ("length+", "length-", "width+", "width-")


def pull(oval, handle, step):
    x, y = handle_points(oval, SIZE, 30.0)[handle]
    return dragged(oval, handle, (x, y), (x + step[0], y + step[1]), SIZE)


@given(ovals, st.sampled_from(ENDS), steps)
def test_an_end_follows_the_pointer_along_its_axis_and_the_other_end_stays(oval, handle, step):
    new = pull(oval, handle, step)
    other = {"+": "-", "-": "+"}
    opposite = handle[:-1] + other[handle[-1]]
    before, after = handle_points(oval, SIZE, 30.0), handle_points(new, SIZE, 30.0)
    np.testing.assert_allclose(after[opposite], before[opposite], atol=1e-9)
    axis = np.subtract(before[handle], before[opposite])
    axis /= np.hypot(*axis)
    went = np.subtract(after[handle], before[handle])
    shortest = 4.0 - np.hypot(*np.subtract(before[handle], before[opposite]))
    np.testing.assert_allclose(went, axis * max(axis @ step, shortest), atol=1e-9)
    unchanged = (new.b, oval.b) if handle.startswith("length") else (new.a, oval.a)
    assert unchanged[0] == unchanged[1]
    assert new.angle == oval.angle


@given(ovals, steps)
def test_the_middle_takes_all_of_it_along(oval, step):
    new = pull(oval, "middle", step)
    assert (new.a, new.b, new.angle) == (oval.a, oval.b, oval.angle)
    assert (new.x - oval.x, new.y - oval.y) == pytest.approx(step, abs=1e-9)


@given(ovals, st.floats(-0.5, 0.5))
def test_the_round_handle_turns_about_the_middle_and_no_further_than_half_way_to_the_width(oval, turn):
    down = handle_points(oval, SIZE, 30.0)["turn"]
    arm = np.subtract(down, (oval.x, oval.y))
    c, s = np.cos(turn), np.sin(turn)
    now = (oval.x + c * arm[0] - s * arm[1], oval.y + s * arm[0] + c * arm[1])
    new = dragged(oval, "turn", down, now, SIZE)
    assert (new.x, new.y, new.a, new.b) == (oval.x, oval.y, oval.a, oval.b)
    assert new.angle == pytest.approx(np.clip(oval.angle + turn, -np.pi / 4, np.pi / 4), abs=1e-9)
    # the axis nearer the pin's stays the length, as the automatic fit has it
    assert new.along(0.0) == new


@given(ovals)
def test_every_handle_can_be_grabbed_where_it_is_drawn(oval):
    points = handle_points(oval, SIZE, 30.0)
    for name, point in points.items():
        nearest = min(points, key=lambda other, at=point: np.hypot(*np.subtract(points[other], at)))
        assert grabbed(oval, point, SIZE, 30.0, 6.0) == nearest == name
    assert grabbed(oval, (479.0, 359.0), SIZE, 30.0, 6.0) is None


@given(ovals, st.floats(0.004, 0.03))
def test_a_number_can_be_changed_alone(oval, point):
    numbers = numbers_of(oval, point)
    for name, value in numbers.items():
        wanted = value * 1.01 if name != "angle" else value + 0.5
        changed = numbers_of(with_number(oval, name, wanted, point, SIZE), point)
        assert changed == pytest.approx(numbers | {name: wanted}, rel=1e-9, abs=1e-9)


def test_what_can_not_be_is_held_back():
    oval = Ellipse(200.0, 150.0, 60.0, 30.0, 0.0)
    assert pull(oval, "middle", (-900.0, 900.0)) == Ellipse(-0.5, 359.5, 60.0, 30.0, 0.0)
    assert pull(oval, "length+", (-400.0, 0.0)).a == 2.0
    assert with_number(oval, "width", -3.0, 0.02, SIZE).b == 2.0
    assert with_number(oval, "angle", 80.0, 0.02, SIZE).angle == pytest.approx(np.pi / 4)


@given(st.floats(0.3, 30.0))
def test_the_scale_bar_is_round_and_fits(view):
    assert bar_length(0.3 * view) in LENGTHS_MM
    assert bar_length(0.3 * view) <= 0.3 * view


def test_codes_are_a_readers_own_and_stay_when_runs_are_added():
    runs = [f"run-{number}" for number in range(40)]
    mine, theirs = blind_codes("c/op1/1", runs), blind_codes("c/op2/1", runs)
    assert all(re.fullmatch(r"[A-Z]\d\d", code) for code in mine.values())
    assert len(set(mine.values())) == 40
    assert sum(mine[run] == theirs[run] for run in runs) < 3
    assert blind_codes("c/op1/1", [*runs, "late"]).items() >= mine.items()
    orders = [shuffled(key, runs) for key in ("c/op1/1", "c/op2/1", "c/op1/2")]
    assert all(sorted(order) == sorted(runs) for order in orders)
    assert all(one != other for one, other in pairwise([*orders, runs]))
    assert [run for run in shuffled("c/op1/1", [*runs, "late"]) if run != "late"] == orders[0]


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo with the pictures of three runs, one of them excluded, so that tests are quick."""
    folder = pinscar.demo("conveyor_07", into=tmp_path_factory.mktemp("reading"))
    for picture in (folder / "micrographs").iterdir():
        if picture.stem not in ("c07-01", "c07-02", "c07-03"):
            picture.unlink()
    shutil.rmtree(folder / "sound")
    shutil.rmtree(folder / "traces")
    return folder


@pytest.fixture
def folder(demo, tmp_path):
    return shutil.copytree(demo, tmp_path / "campaign")


@pytest.fixture(scope="module")
def measured():
    return {}


@pytest.fixture(autouse=True)
def measure_once(monkeypatch, measured):
    """The same picture is measured once for all tests here: it takes a second or two."""

    def measure(pixels, scale):
        key = (pixels.tobytes(), scale)
        if key not in measured:
            measured[key] = measure_scar(pixels, scale)
        return measured[key]

    monkeypatch.setattr(scar_round, "measure_scar", measure)
    return measure


def rows(folder):
    with (folder / "readings.csv").open(encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def notice(desk):
    return html.unescape(desk.notice.value)


def texts(widget):
    """Everything that a widget and those in it could show."""
    found = [str(getattr(widget, name, "")) for name in ("value", "description", "tooltip", "placeholder")]
    for child in getattr(widget, "children", ()):
        found += texts(child)
    return found


def known_by_name(folder, desk):
    runs = check_campaign(folder)[0].runs
    names = {*runs["run_id"], *runs["lubricant"]}
    said = "\n".join(texts(desk.widget))
    return sorted(name for name in names if name in said)


def spoil(folder, old, new):
    text = (folder / "runs.csv").read_text(encoding="utf-8")
    assert old in text
    (folder / "runs.csv").write_text(text.replace(old, new), encoding="utf-8")


def test_a_round_is_read_blind_and_every_reading_is_a_row(folder, measure_once):
    before = rows(folder)
    desk = pinscar.read_scars(folder, "op1")
    codes = []
    for done in range(3):
        assert f"{done} of 3 read by op1" in desk.progress.value
        assert known_by_name(folder, desk) == []
        codes.append(desk.picture.code)
        assert desk.picture.code in desk.head.value
        run_id, fit = desk.picture.run_id, desk.ellipse
        image = read_picture(folder / "micrographs" / f"{run_id}.jpg")
        found = measure_once(image, 18e-6)
        assert desk.fields["length"].value == round(found.length * 1e3, 3)
        assert desk.fields["width"].value == round(found.width * 1e3, 3)
        assert desk.fields["angle"].value == round(np.degrees(found.angle), 2)
        desk.put(Ellipse(fit.x, fit.y, fit.a + 5.0, fit.b, fit.angle))
        desk.button.click()
        assert known_by_name(folder, desk) == []
        last = rows(folder)[-1]
        assert (last["run_id"], last["reader"], last["blind_code"]) == (run_id, "op1", codes[-1])
        # 10 points of 18 um more
        assert float(last["scar_length [mm]"]) == pytest.approx(found.length * 1e3 + 0.18, abs=6e-4)
        assert float(last["scar_width [mm]"]) == pytest.approx(found.width * 1e3, abs=6e-4)
        mine = [one for one in before if (one["run_id"], one["reader"]) == (run_id, "op1")]
        assert int(last["reading"]) == len(mine) + 1
    assert "All 3 read by op1" in desk.progress.value
    assert "the round is done" in desk.outcome.value
    assert len(set(codes)) == 3
    assert [{**one, "blind_code": ""} for one in rows(folder)[: len(before)]] == [
        {**one, "blind_code": ""} for one in before
    ]
    assert not [one for one in check_campaign(folder)[1] if one.severity == "error"]


def test_a_round_goes_on_where_it_stopped(folder):
    first = pinscar.read_scars(folder, "op1")
    order = [one.code for one in first.round.pictures]
    first.save()
    again = pinscar.read_scars(folder, "op1")
    assert [one.code for one in again.round.pictures] == order
    assert again.picture.code == order[1]
    assert "1 of 3 read by op1" in again.progress.value
    # another reader, or another round, begins at nothing and is led by another order or other codes
    for other in (pinscar.read_scars(folder, "op2"), pinscar.read_scars(folder, "op1", seed=2)):
        assert "0 of 3 read" in other.progress.value
        assert {one.code for one in other.round.pictures}.isdisjoint(order)


def test_previous_and_next_end_at_the_ends_and_tell_what_was_read_already(folder):
    desk = pinscar.read_scars(folder, "op1")
    first = desk.picture
    assert desk.back.disabled
    desk.save()
    desk.back.click()
    assert desk.picture == first
    assert "You have read it in this round" in notice(desk)
    desk.forth.click()
    desk.forth.click()
    desk.next()
    assert desk.forth.disabled
    assert desk.picture == desk.round.pictures[-1]


def test_numbers_follow_the_ellipse_and_the_ellipse_the_numbers(folder):
    desk = pinscar.read_scars(folder, "op1")
    start = desk.ellipse
    desk.fields["length"].value = 4.5
    assert desk.ellipse.a == pytest.approx(4.5 / 2 / 0.018)
    assert (desk.ellipse.b, desk.ellipse.angle) == (start.b, start.angle)
    desk.fields["angle"].value = 70.0
    assert desk.fields["angle"].value == 45.0
    desk.fields["width"].value = 0.0
    assert desk.fields["width"].value == pytest.approx(4 * 0.018)
    desk.again.click()
    assert desk.ellipse == start
    assert desk.fields["length"].value == pytest.approx(2 * start.a * 0.018, abs=5e-4)


def press(desk, kind, at, button=0):
    """Send what the browser sends."""
    x, y = at
    content = {"type": kind, "x": x, "y": y, "button": button, "buttons": 1, "modifiers": []}
    desk.canvas.widget._handle_message(None, content | {"guiEvent": None}, [])


def on_screen(desk, point):
    x, y = desk.canvas.figure.axes[0].transData.transform(point)
    return float(x), desk.canvas.figure.bbox.height - float(y)


def drag(desk, handle, step):
    at = on_screen(desk, handle_points(desk.ellipse, SIZE, 30.0 * 480 / 640)[handle])
    press(desk, "motion_notify", at)
    press(desk, "button_press", at)
    press(desk, "motion_notify", (at[0] + step[0] / 2, at[1] + step[1] / 2))
    press(desk, "motion_notify", (at[0] + step[0], at[1] + step[1]))
    press(desk, "button_release", (at[0] + step[0], at[1] + step[1]))


def test_the_mouse_moves_stretches_and_turns_and_the_numbers_follow(folder):
    desk = pinscar.read_scars(folder, "op1", start="middle", width=640)
    assert (desk.canvas.figure.bbox.width, desk.canvas.figure.bbox.height) == (640.0, 480.0)
    desk.canvas.widget.draw()
    drag(desk, "middle", (40.0, -20.0))  # a point of the picture takes 4/3 of the screen's
    assert (desk.ellipse.x, desk.ellipse.y) == pytest.approx((239.5 + 30.0, 179.5 - 15.0))
    drag(desk, "length+", (40.0, 7.0))
    assert desk.ellipse.a == pytest.approx(120.0 + 15.0)
    drag(desk, "width-", (3.0, -16.0))
    assert desk.ellipse.b == pytest.approx(60.0 + 6.0)
    drag(desk, "turn", (0.0, 50.0))
    assert desk.ellipse.angle > 0.1
    shown = {name: field.value for name, field in desk.fields.items()}
    assert shown == pytest.approx(numbers_of(desk.ellipse, 0.018), abs=6e-3)
    assert "Back to the middle" in desk.again.description


def test_zooming_leaves_the_ellipse_alone_and_the_scale_bar_goes_with_it(folder):
    desk = pinscar.read_scars(folder, "op1", start="middle", width=640)
    desk.canvas.widget.draw()
    start, bar = desk.ellipse, desk.canvas._drawn["label"].get_text()
    toolbar = desk.canvas.widget.toolbar
    toolbar.zoom()
    drag(desk, "middle", (150.0, 110.0))
    assert desk.ellipse == start
    toolbar.zoom()
    desk.canvas.widget.draw()
    left, right = desk.canvas.figure.axes[0].get_xlim()
    assert right - left < 200
    assert desk.canvas._drawn["label"].get_text() != bar
    point = (right - left) / 640
    drag(desk, "middle", (10.0, 0.0))
    assert desk.ellipse.x == pytest.approx(start.x + 10.0 * point)
    # the right button is for the page's menu
    at = on_screen(desk, (desk.ellipse.x, desk.ellipse.y))
    press(desk, "button_press", at, button=2)
    press(desk, "motion_notify", (at[0] + 30.0, at[1]))
    assert desk.ellipse.x == pytest.approx(start.x + 10.0 * point)


def test_the_picture_shows_the_ellipse_where_it_is():
    canvas = ScarCanvas(lambda _: None, 640)
    canvas.show(np.full((360, 480), 120, dtype=np.uint8), 18e-6, Ellipse(239.5, 179.5, 120.0, 60.0, 0.0))
    canvas.widget.draw()
    shown = np.asarray(canvas.widget.buffer_rgba())[..., :3].astype(int)
    wanted = np.array([int(LINE[place : place + 2], 16) for place in (1, 3, 5)])
    high, wide = np.nonzero(np.abs(shown - wanted).sum(axis=2) < 90)
    # left and right ends of the outline, at 4/3 px a point; the stem of the turning handle goes further right
    assert wide.min() == pytest.approx(640 / 2 - 160, abs=2)
    assert (high.min(), high.max()) == pytest.approx((240 - 80, 240 + 80), abs=2)
    # whole frame is picture or drawing
    assert tuple(shown[5, 5]) == (120, 120, 120)


def test_what_is_drawn_quickly_is_what_is_drawn_at_length():
    canvas = ScarCanvas(lambda _: None, 640)
    pixels = np.random.default_rng(1).integers(60, 180, (360, 480)).astype(np.uint8)
    first, second = Ellipse(239.5, 179.5, 120.0, 60.0, 0.0), Ellipse(200.0, 150.0, 90.0, 70.0, 0.3)
    canvas.show(pixels, 18e-6, first)
    canvas.widget.draw()
    canvas.put(second)
    canvas.widget.draw()
    quick = np.asarray(canvas.widget.buffer_rgba()).copy()
    canvas.show(pixels, 18e-6, second)
    canvas.widget.draw()
    np.testing.assert_array_equal(quick, np.asarray(canvas.widget.buffer_rgba()))


def test_openly_read_pictures_carry_names_and_no_code(folder):
    desk = ReadingDesk(folder, "op3", blind=False)
    assert [one.run_id for one in desk.round.pictures] == ["c07-01", "c07-02", "c07-03"]
    assert "Run c07-01, R-10" in desk.head.value
    desk.save()
    last = rows(folder)[-1]
    assert (last["run_id"], last["reader"], last["reading"]) == ("c07-01", "op3", "1")
    assert "1 of 3 read by op3" in desk.progress.value


def test_a_picture_without_scale_is_shown_and_can_not_be_saved(folder):
    spoil(folder, "2.03,yes,,,18.0", "2.03,yes,,,")
    desk = ReadingDesk(folder, "op3", blind=False)
    before = rows(folder)
    assert "micrograph_scale is blank" in notice(desk)
    assert desk.button.disabled
    assert desk.fields["length"].description == "Length [px]"
    desk.save()
    assert rows(folder) == before
    desk.next()
    assert not desk.button.disabled
    assert desk.fields["length"].description == "Length [mm]"


def test_what_the_automatic_fit_refuses_is_said_and_can_be_read(folder):
    noise = np.random.default_rng(1).integers(90, 110, (360, 480)).astype(np.uint8)
    Image.fromarray(noise).save(folder / "micrographs" / "c07-01.jpg")
    desk = ReadingDesk(folder, "op3", blind=False)
    assert re.search(r"The automatic fit (was refused|found no oval)", notice(desk))
    assert not desk.button.disabled
    (folder / "micrographs" / "c07-02.jpg").write_bytes(b"no picture")
    desk.save()
    assert "can't be read" in notice(desk)
    assert desk.button.disabled
    assert desk.ellipse is None
    desk.reset()
    desk.save()
    desk.next()
    assert "starts at the automatic fit" in notice(desk)


def test_a_broken_file_is_refused_with_its_problems_and_the_ellipse_stays(folder):
    desk = pinscar.read_scars(folder, "op1")
    broken = (folder / "readings.csv").read_text(encoding="utf-8") + "c07-99,op1,1,4.1,2.2\n"
    (folder / "readings.csv").write_text(broken, encoding="utf-8")
    desk.fields["length"].value = 4.321
    shown = desk.picture
    desk.save()
    assert "no run has this run_id" in desk.outcome.value.lower()
    assert (desk.picture, desk.fields["length"].value) == (shown, 4.321)
    assert (folder / "readings.csv").read_text(encoding="utf-8") == broken
    with pytest.raises(InputError, match="no run has this run_id"):
        pinscar.read_scars(folder, "op1")


def test_blank_scars_are_what_is_read(folder):
    text = (folder / "runs.csv").read_text(encoding="utf-8").splitlines()
    head = text[0].split(",")
    places = [head.index("scar_length [mm]"), head.index("scar_width [mm]"), head.index("read_blind")]
    blank = [
        ["" if place in places else cell for place, cell in enumerate(line.split(","))] for line in text[1:4]
    ]
    (folder / "runs.csv").write_text("\n".join([text[0], *map(",".join, blank)]) + "\n", encoding="utf-8")
    for name in ("readings.csv", "load_steps.csv"):
        (folder / name).unlink()
    assert check_campaign(folder)[0] is None
    desk = pinscar.read_scars(folder, "op1")
    for _ in range(3):
        desk.save()
    _, problems = check_campaign(folder)
    assert [str(one) for one in problems if one.severity == "error" and one.file != "campaign.toml"] == []
    assert len(rows(folder)) == 3


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"reader": " "}, "needs a name"),
        ({"reader": "op1", "start": "guess"}, "start must be 'fit' or 'middle'"),
    ],
)
def test_wrong_options_are_said(folder, options, said):
    with pytest.raises(UsageError, match=said):
        pinscar.read_scars(folder, **options)


def test_a_folder_without_pictures_is_said(folder):
    shutil.rmtree(folder / "micrographs")
    with pytest.raises(InputError, match="no included run has a picture"):
        pinscar.read_scars(folder, "op1")
    with pytest.raises(InputError, match="no such folder"):
        pinscar.read_scars(folder / "nowhere", "op1")


def test_the_desk_is_a_widget(folder):
    desk = pinscar.read_scars(folder, "op1")
    assert isinstance(desk.widget, ipywidgets.VBox)


def test_a_picture_too_small_to_be_one_is_said(folder):
    Image.new("L", (40, 30)).save(folder / "micrographs" / "c07-01.jpg")
    desk = ReadingDesk(folder, "op3", blind=False)
    assert "can't be read" in notice(desk)
    assert desk.button.disabled


def test_other_figures_of_a_notebook_keep_their_backend():
    code = (
        "import matplotlib; matplotlib.use('svg'); import matplotlib.pyplot as plt; before = plt.figure()\n"
        "import pinscar; pinscar.read_scars\n"
        "kinds = [type(figure.canvas).__name__ for figure in (before, plt.figure())]\n"
        "print(matplotlib.get_backend(), plt.get_fignums(), *kinds)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["svg", "[1,", "2]", "FigureCanvasSVG", "FigureCanvasSVG"]

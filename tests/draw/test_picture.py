from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from layout3d.draw.labels import crossing
from layout3d.draw.picture import picture
from layout3d.draw.screen import opened
from layout3d.draw.stage import set_stage
from layout3d.draw.style import FINDING_MARKS
from layout3d.errors import LayoutError, OutOfRange, UnknownName
from layout3d.model.spot import CameraSpot

SIZE = (480, 360)


def overlap(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def pixels(facts):
    return np.asarray(Image.open(facts.file).convert("RGB")).astype(int)


@pytest.fixture(scope="module")
def three_quarter(model, findings, tmp_path_factory):
    to = tmp_path_factory.mktemp("pictures") / "tank.png"
    return picture(set_stage(model), to=to, findings=findings, size=SIZE, net_volume=0.0466)


def test_the_picture_is_written_in_the_size_asked(three_quarter):
    with Image.open(three_quarter.file) as image:
        assert image.format == "PNG"
        assert image.size == SIZE
    assert [path.name for path in three_quarter.file.parent.iterdir()] == ["tank.png"]


def test_every_group_can_be_seen(three_quarter):
    for group in ("glass", "water", "rock", "wood", "substrate", "plumbing", "equipment"):
        assert three_quarter.pixels[group] > 40, group
    assert three_quarter.pixels["glass"] > three_quarter.pixels["water"] > three_quarter.pixels["rock"]


def test_labels_name_parts_once_on_the_page_and_apart(three_quarter):
    labels = three_quarter.labels
    named = [part for label in labels for part in label.parts]
    assert sorted(named) == sorted(["tank", "bed", "stone_1", "stone_2", "log", "riser", "pump", "water"])
    assert {label.text for label in labels} >= {"stone × 2", "tank", "water"}
    for label in labels:
        assert 0 <= label.box[0] < label.box[2] <= SIZE[0]
        assert 0 <= label.box[1] < label.box[3] <= SIZE[1]
    for a, b in itertools.combinations(labels, 2):
        assert not overlap(a.box, b.box)
        assert not crossing(a, b)


def test_a_label_points_at_its_part(three_quarter, model):
    """A leader ends within the box of its part as projected."""
    for label in three_quarter.labels:
        for body in model.bodies_of(label.parts[0]) if label.parts != ("water",) else ():
            corners = np.array(list(itertools.product(*body.solid.bounds.T)))
            flat = three_quarter.camera.project(corners)
            if (flat.min(axis=0) - 3 <= label.at).all() and (label.at <= flat.max(axis=0) + 3).all():
                break
        else:
            assert label.parts in (("water",), ("stone_1", "stone_2")), label


def test_badges_stand_where_their_findings_lie(three_quarter, findings, model):
    by_number = {badge.number: badge for badge in three_quarter.badges}
    assert set(by_number) == {1, 2, 3}
    for number, finding in enumerate(findings, start=1):
        middle = np.mean([body.solid.bounds.mean(axis=0) for body in model.bodies_of("pump")], axis=0)
        point = finding.at if finding.at is not None else middle
        at = three_quarter.camera.project(np.array([point]))[0]
        assert by_number[number].at == pytest.approx(tuple(at), abs=1.0)
        assert by_number[number].severity == finding.severity


def test_badges_are_drawn_in_the_colour_of_their_severity(three_quarter):
    image = pixels(three_quarter)
    for badge in three_quarter.badges:
        x, y = (round(v) for v in badge.centre)
        colour = np.array(FINDING_MARKS[badge.severity].colour) * 255
        around = image[y - 4 : y + 5, x - 4 : x + 5].reshape(-1, 3)
        assert np.abs(around - colour).max(axis=1).min() < 12


def test_title_and_legend_say_what_is_shown(three_quarter, findings):
    assert three_quarter.title[0] == "A tank to draw"
    assert three_quarter.title[1].split("  ·  ") == [
        "three-quarter view",
        "waterline 180 mm",
        "46.6 L of water, net",
    ]
    assert three_quarter.legend[0].startswith("1 overlap: stone_1 and stone_2 do not go together by 3.14 mm")
    assert len(three_quarter.legend) == 3


def test_the_scale_bar_is_drawn_as_long_as_it_says(model, tmp_path):
    facts = picture(set_stage(model, hide=("water",)), view="front", to=tmp_path / "f.png", size=SIZE)
    bar = facts.scale_bar
    ends = facts.camera.project(np.array([[0.1, 0.0, 0.1], [0.1 + bar.metres, 0.0, 0.1]]))
    assert bar.pixels == pytest.approx(ends[1, 0] - ends[0, 0])
    # its first half is solid ink
    x, y = bar.at
    row = pixels(facts)[round(y), round(x) + 2 : round(x + bar.pixels / 2) - 2]
    assert row.max() < 90
    beyond = pixels(facts)[round(y), round(x + bar.pixels) + 4 : round(x + bar.pixels) + 20]
    assert beyond.min() > 180


def test_a_scene_in_inches_gets_a_bar_and_title_in_inches(inch_model, tmp_path):
    facts = picture(set_stage(inch_model), view="plan", to=tmp_path / "p.png", size=SIZE)
    assert facts.scale_bar.text.endswith(" in")
    assert facts.title[1] == "plan  ·  waterline 7.09 in"


def test_a_cut_shows_what_it_lays_open_and_drops_badges_that_it_takes_away(model, findings, tmp_path):
    facts = picture(
        set_stage(model),
        view="front",
        cut=("y", 0.2),
        to=tmp_path / "c.png",
        findings=findings,
        size=SIZE,
        labels=False,
    )
    assert facts.title[1].startswith("front view  ·  cut 200 mm from the front glass")
    assert {badge.number for badge in facts.badges} == {2, 3}
    assert facts.labels == ()
    assert len(facts.legend) == 3


def test_a_cut_is_looked_at_in_the_middle_of_what_it_leaves(model, tmp_path):
    """The three-quarter view stands on the left: a cut at 600 mm leaves the last quarter of 800 mm."""
    facts = picture(set_stage(model), cut=("x", 0.6), to=tmp_path / "c.png", size=(400, 320), labels=False)
    ends = np.array(list(itertools.product((0.6, 0.8), (0.0, 0.4), (0.0, 0.45))))
    flat = facts.camera.project(ends)
    left, top, right, bottom = facts.drawing
    middle = (flat.min(axis=0) + flat.max(axis=0)) / 2.0
    assert middle == pytest.approx(((left + right) / 2.0, (top + bottom) / 2.0), abs=8.0)
    assert np.ptp(flat[:, 1]) > 0.85 * (bottom - top)


def test_a_camera_of_the_scene_takes_the_picture(model, tmp_path):
    """From the right, a cut square to x takes the right away: the side that the camera stands on."""
    spot = CameraSpot(at=(2.0, -0.5, 0.4), target=(0.4, 0.2, 0.1), angle=0.6)
    seen = replace(model, cameras={"from_right": spot})
    facts = picture(
        set_stage(seen), spot="from_right", cut=("x", 0.5), to=tmp_path / "c.png", size=(400, 320)
    )
    assert facts.title[1].startswith("camera from right  ·  cut 500 mm from the left glass")
    assert facts.camera.project([spot.target]) == pytest.approx(np.array([[200.0, 160.0]]))
    assert "pump" not in facts.parts
    assert "stone_1" in facts.parts
    for label in facts.labels:
        assert facts.drawing[0] - 2 <= label.at[0] <= facts.drawing[2] + 2


def test_hidden_parts_are_neither_drawn_nor_named(model, tmp_path):
    facts = picture(set_stage(model, hide=("rock", "water", "tank")), to=tmp_path / "h.png", size=SIZE)
    assert "rock" not in facts.pixels
    assert "water" not in facts.pixels
    assert not {part for label in facts.labels for part in label.parts} & {
        "stone_1",
        "stone_2",
        "tank",
        "water",
    }


def test_glass_lets_what_is_behind_it_through(model, tmp_path):
    """Clear, but there: the stone keeps most of its look, and is not quite the same."""
    behind = picture(
        set_stage(model, hide=("water",)),
        view="front",
        to=tmp_path / "a.png",
        size=SIZE,
        labels=False,
    )
    free = picture(
        set_stage(model, hide=("water", "tank.front")),
        view="front",
        to=tmp_path / "b.png",
        size=SIZE,
        labels=False,
    )
    x, y = (round(v) for v in behind.camera.project(np.array([[0.2, 0.1, 0.12]]))[0])
    one, two = (pixels(f)[y - 5 : y + 5, x - 5 : x + 5].mean(axis=(0, 1)) for f in (behind, free))
    assert 1.0 < np.abs(one - two).max() < 40.0


def test_the_same_picture_twice_is_the_same(model, tmp_path):
    one = picture(set_stage(model), to=tmp_path / "1.png", size=(400, 320))
    two = picture(set_stage(model), to=tmp_path / "2.png", size=(400, 320))
    assert np.abs(pixels(one) - pixels(two)).max() <= 2
    assert one.labels == two.labels


def test_further_views_on_one_screen_are_as_on_a_screen_of_their_own(model, tmp_path):
    """Also a plan, which leaves pieces out, cuts, which have their own, and the first view again."""
    stage = set_stage(model)
    asked = [("front", None), ("plan", None), ("front", ("y", 0.1)), ("back", ("y", 0.1)), ("front", None)]
    size = (400, 320)
    with opened(size) as page:
        for number, (view, cut) in enumerate(asked):
            shared = picture(stage, view=view, cut=cut, to=tmp_path / f"{number}.png", size=size, on=page)
            alone = picture(stage, view=view, cut=cut, to=tmp_path / "alone.png", size=size)
            assert np.abs(pixels(shared) - pixels(alone)).max() <= 2
            assert (shared.labels, shared.pixels) == (alone.labels, alone.pixels)


@pytest.mark.parametrize(
    ("asked", "error", "words"),
    [
        ({"view": "isometrc"}, UnknownName, "'isometrc' is not a view"),
        ({"size": (10, 600)}, OutOfRange, "10 pixels wide"),
        ({"size": (800, 90_000)}, OutOfRange, "90000 pixels high"),
        ({"cut": ("y", 4.0)}, OutOfRange, "passes everything"),
        ({"cut": ("x", 0.1), "view": "front"}, OutOfRange, "looks along"),
        ({"spot": "low"}, UnknownName, "no camera is called 'low'"),
    ],
)
def test_what_can_t_be_drawn_is_refused_and_nothing_is_written(model, tmp_path, asked, error, words):
    with pytest.raises(error, match=words):
        picture(set_stage(model), to=tmp_path / "no.png", **{"size": SIZE, **asked})
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_can_t_be_written_is_refused(model, tmp_path):
    with pytest.raises(LayoutError, match="no folder"):
        picture(set_stage(model), to=tmp_path / "missing" / "a.png", size=SIZE)
    with pytest.raises(LayoutError, match="written as PNG"):
        picture(set_stage(model), to=tmp_path / "a.jpg", size=SIZE)


def test_a_write_that_fails_leaves_the_old_picture_alone(model, tmp_path, monkeypatch):
    to = tmp_path / "a.png"
    to.write_bytes(b"old")

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Image.Image, "save", full)
    with pytest.raises(LayoutError, match="No space left"):
        picture(set_stage(model), to=to, size=(320, 320), labels=False)
    assert to.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.png"]


def test_no_label_or_leader_from_a_camera_runs_over_the_title(model, tmp_path):
    """From so near that things fill the page behind the title, too."""
    spot = CameraSpot(at=(0.5, -0.35, 0.25), target=(0.5, 0.3, 0.15), angle=0.9)
    seen = replace(model, cameras={"near": spot})
    facts = picture(set_stage(seen), spot="near", to=tmp_path / "near.png", size=(640, 480))
    _, top, _, bottom = facts.drawing
    assert facts.labels
    for label in facts.labels:
        assert all(top <= y <= bottom for y in (label.box[1], label.stub[1], label.knee[1], label.at[1]))

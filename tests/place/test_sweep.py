"""Values varied over a range: what the rows hold, in which order, and on which machine."""

from __future__ import annotations

import csv
import io
import json

import pytest
from schemas import fits

from layout3d.cli import main
from layout3d.draw.sweep_chart import sweep_chart, sweep_figure
from layout3d.errors import LayoutError, SceneMistake, UnknownName
from layout3d.place.engine import Engine, each
from layout3d.place.sweep import axis_of, in_scene, sweep
from layout3d.report.sweep import sweep_csv, sweep_lines

SCENE = """\
format: 1
units: mm
waterline: depth
values: {depth: 200, side: 100}
parts:
  tank: {kind: tank, inside: [600, 300, 400], glass: 8}
  block:
    kind: rock
    form: boulder
    size: [side, 80, 60]
    at: {left: 300, front: 150, bottom: 0}
    fixed_to: tank.bottom
"""
ALONE = Engine(jobs=1)


@pytest.fixture
def scene(tmp_path):
    file = tmp_path / "scene.yaml"
    file.write_text(SCENE)
    return str(file)


def test_gross_water_is_length_times_depth_times_waterline(scene):
    """Closed form: the inside of the tank is a box of 600 x 300 mm."""
    axes = [axis_of("depth=100..300:100"), axis_of("side=80 mm..10 cm:20 mm")]
    rows = sweep(scene, axes, ["water_volume_gross", "displaced.block"], engine=ALONE)
    assert [row.values for row in rows] == [
        {"depth": depth, "side": side} for depth in ("100", "200", "300") for side in ("80 mm", "100 mm")
    ]
    for row in rows:
        depth = float(row.values["depth"]) / 1000
        assert row.figures["water_volume_gross"] == pytest.approx(0.6 * 0.3 * depth, rel=1e-9)
    assert rows[0].figures["displaced.block"] < rows[1].figures["displaced.block"]


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("depth=100..300:100", "mm"),
        ("depth=10 cm..30 cm:10 cm", "cm"),
        ("block.turn=0..90:30", "°"),
        ("block.seed=1..3:1", ""),
    ],
)
def test_a_bare_figure_has_the_unit_that_the_scene_reads_it_in(scene, text, unit):
    axis = in_scene(scene, axis_of(text))
    assert axis.unit == unit
    assert axis.texts == axis_of(text).texts


@pytest.mark.parametrize(
    ("text", "texts"),
    [
        ("a=40%..100%:30%", ("40%", "70%", "100%")),
        ("a=1..0:-0.4", ("1", "0.6", "0.2")),
        ("a=0.1..0.3:0.1", ("0.1", "0.2", "0.3")),
        ("a=1/2 in..1 in:1/4 in", ("0.5 in", "0.75 in", "1 in")),
        ("a=1 in..50.8 mm:1 in", ("1 in", "2 in")),
        ("a=-5..5:5", ("-5", "0", "5")),
    ],
)
def test_steps_reach_their_end_exactly_where_it_is_one(text, texts):
    assert axis_of(text).texts == texts


@pytest.mark.parametrize(
    "text", ["a", "a=1..2", "a=1..2:0", "a=1..2:-1", "a=1 mm..2 kg:1 mm", "a=b..2:1", "a=1..:1"]
)
def test_what_is_no_range_is_refused(text):
    with pytest.raises(SceneMistake, match=r"vary|plain figure"):
        axis_of(text)


def test_faults_and_scenes_that_cannot_be_built_keep_their_rows(scene):
    axes = [axis_of("block.at.left=-100..300:200"), axis_of("side=-100..100:200")]
    rows = sweep(scene, axes, ["water_volume_net"], engine=ALONE)
    assert [bool(row.refused) for row in rows] == [True, False] * 3
    assert rows[1].faults, "a stone through the left pane"
    assert not rows[5].faults
    assert rows[0].figures == {"water_volume_net": None}
    lines = [line.text for line in sweep_lines(axes, rows, ["water_volume_net"], asked=9)]
    assert any("can't be built" in line for line in lines)
    assert lines[-1] == "stopped: 6 of 9 scenes were reached"


def test_an_unknown_figure_or_a_sweep_without_any_scene_is_refused(scene):
    with pytest.raises(UnknownName, match="water_volume_net"):
        sweep(scene, [axis_of("depth=100..200:50")], ["water_volume"], engine=ALONE)
    with pytest.raises(LayoutError, match="depht"):
        sweep(scene, [axis_of("depht=100..200:50")], ["water_volume_net"], engine=ALONE)


def test_one_core_two_and_a_cluster_give_the_same_rows(scene):
    distributed = pytest.importorskip("dask.distributed")
    axes = [axis_of("depth=100..200:50")]
    alone = sweep(scene, axes, ["water_volume_net"], engine=ALONE)
    assert sweep(scene, axes, ["water_volume_net"], engine=Engine(jobs=2)) == alone
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        far = sweep(scene, axes, ["water_volume_net"], engine=Engine(cluster=cluster.scheduler_address))
    assert far == alone


def test_where_no_cluster_answers_it_says_so(scene):
    with pytest.raises(LayoutError, match="no cluster answers at nowhere"):
        sweep(scene, [axis_of("depth=1..2:1")], [], engine=Engine(cluster="nowhere"))


def test_ctrl_c_keeps_what_was_reached():
    def work(number):
        if number == 2:
            raise KeyboardInterrupt
        return number * 10

    seen = []
    assert each(work, [0, 1, 2, 3], engine=ALONE, done=lambda count, of: seen.append(count)) == [
        0,
        10,
        None,
        None,
    ]
    assert seen == [0, 1, 2]


def test_the_command_prints_json_by_its_schema_and_writes_csv_and_plot(scene, tmp_path, capsys):
    files = tmp_path / "rows.csv", tmp_path / "plot.png"
    given = [
        "sweep",
        scene,
        "--vary",
        "depth=100..200:100",
        "--show",
        "water_volume_gross",
        "--jobs",
        "1",
        "--json",
    ]
    assert main([*given, "--csv", str(files[0]), "--plot", str(files[1])]) == 0
    facts = json.loads(capsys.readouterr().out)
    fits(facts, "sweep")
    assert [row["values"]["depth"] for row in facts["rows"]] == [100.0, 200.0]
    table = list(csv.DictReader(io.StringIO(files[0].read_text())))
    assert [float(row["water_volume_gross [m³]"]) for row in table] == pytest.approx([0.018, 0.036])
    assert files[1].read_bytes().startswith(b"\x89PNG")
    assert main(["sweep", scene, "--vary", "depth=1..2", "--json"]) == 2


@pytest.mark.parametrize("reached", [0, 1])
def test_a_sweep_stopped_by_ctrl_c_says_so_by_its_exit_code(scene, reached, tmp_path, capsys, monkeypatch):
    """Without any row there is nothing to draw: that ended as a fault of the program."""
    axes = [axis_of("depth=100..200:100")]
    rows = sweep(scene, axes, ["water_volume_net"], engine=ALONE)[:reached]
    monkeypatch.setattr("layout3d.place.sweep.sweep", lambda *given, **more: rows)
    plot = tmp_path / "plot.svg"
    given = ["--vary", "depth=100..200:100", "--show", "water_volume_net"]
    assert main(["sweep", scene, *given, "--plot", str(plot)]) == 130
    assert f"stopped: {reached} of 2 scenes were reached" in capsys.readouterr().out
    assert plot.exists() == bool(reached)


def test_a_map_draws_each_cell_and_marks_its_faults(scene, tmp_path):
    axes = [axis_of("depth=100..200:100"), axis_of("block.at.left=-100..300:200")]
    rows = sweep(scene, axes, ["water_volume_net"], engine=ALONE)
    figure = sweep_figure(axes, rows, ["water_volume_net"], title="a")
    (image,) = figure.axes[0].images
    assert image.get_array().shape == (2, 3)
    assert image.get_array()[1, 2] == pytest.approx(rows[5].figures["water_volume_net"] * 1000)
    (marked,) = figure.axes[0].collections
    assert len(marked.get_offsets()) == sum(bool(row.faults) for row in rows) > 0
    with pytest.raises(LayoutError, match="3 varied values"):
        sweep_chart([*axes, axes[0]], rows, [], title="a", to=tmp_path / "a.png")
    assert sweep_csv(axes, rows, ["water_volume_net"]).count("\n") == 7

"""What a user stumbled over: sand in pipes, moved corners, leaves through glass, short legs one at a time."""

import numpy as np
import pytest

from layout3d.errors import SceneRefused
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.contain import inside
from layout3d.solid.distance import overlap

HEAD = "format: 1\nunits: mm\nwaterline: 150\nparts:\n"
TANK = "  tank: {kind: tank, inside: [600, 400, 400], glass: 10"


def built(parts: str, tank: str = TANK + "}\n"):
    return build_model(read_scene("scene.yaml", text=HEAD + tank + parts))


def test_sand_goes_around_a_standpipe_and_not_into_it():
    tank = TANK + ", holes: {drain: {panel: bottom, left: 300, front: 200, bulkhead: d32}}}\n"
    parts = (
        "  bed: {kind: substrate, depth: 80}\n"
        "  pipe: {kind: run, pipe: d32 pn 10, start: drain.inside, route: [{up: 140}, open]}\n"
    )
    bed = built(parts, tank).body("bed").solid
    on_axis = np.array([[0.3, 0.2, z] for z in np.linspace(0.002, 0.078, 20)])
    assert not inside(bed, on_axis).any()
    assert inside(bed, np.array([[0.3 + 0.03, 0.2, 0.04]])).all()  # beside the pipe's 16 mm there is sand


def test_a_footprint_that_would_be_moved_is_refused():
    corners = "[[-30, 0], [300, 0], [300, 400], [-30, 400]]"
    tank = f"  tank: {{kind: tank, footprint: {corners}, height: 400, glass: 10}}\n"
    with pytest.raises(SceneRefused, match="least x is -30 mm"):
        built("", tank)


def test_leaves_stay_inside_the_glass_and_it_is_told():
    fern = "  fern: {kind: plant, form: fern, height: 150, spread: 250, at: [300, 350, 0]}\n"
    model = built(fern)
    leaves = model.body("fern.foliage").solid
    assert leaves.bounds[1, 1] == pytest.approx(0.4, abs=1e-9)
    assert overlap(leaves, model.body("tank.back").solid) is None
    assert any(note.startswith("fern: its leaves reach") for note in model.notes)


def test_every_short_leg_of_a_run_is_told_in_one_run():
    run = (
        "  run: {kind: run, pipe: d32 pn 10, start: [100, 200, 50], "
        "route: [{up: 100}, {right: 20}, {up: 30}, {right: 200}]}\n"
    )
    with pytest.raises(SceneRefused) as refused:
        built(run)
    assert [mistake.path for mistake in refused.value.mistakes] == [
        "parts.run.route[2]",
        "parts.run.route[3]",
    ]

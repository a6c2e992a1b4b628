"""What is told of a text, and in what order."""

import gc
import itertools
import multiprocessing
import os
import pickle
import signal
import sys
import threading
from dataclasses import fields
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import small_scenes
import trimesh

from layout3d import wanted
from layout3d.draw import pieces, stage
from layout3d.draw.pieces import DRAWN
from layout3d.keep import file_away, forget
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.boolean import section
from layout3d.view import answers
from layout3d.view.answers import (
    FIT,
    Ahead,
    Bench,
    Between,
    Dress,
    Files,
    Fit,
    Judged,
    Levels,
    Mistakes,
    Near,
    Placed,
    Text,
    Trouble,
    serve,
)
from layout3d.view.beside import Beside
from layout3d.view.looks import ARRAYS, Looks, completed, get_ready, looks_of, shortened


def test_what_is_known_first_is_told_first_and_is_no_more_than_a_part(scene_file):
    bench, told = Bench(scene_file), []
    text = scene_file.read_text().replace("water: 120 ", "water: 249 ")  # too near the rim, which is no fit
    told += bench.answers(Text(1, text, ("judged",)))
    told += bench.answers(Text(2, text.replace("left: 290", "left: 140"), ("judged", "looks")))
    assert [type(answer) for answer in told[:4]] == [Placed, Fit, Judged, Levels]
    assert [type(answer) for answer in told[4:]] == [Placed, Fit, Judged, Levels, Looks]
    first, (placed, fit, judged, _, looks) = told[0], told[4:]
    assert {one.rule for one in fit.findings} == {"overlap"}
    assert fit.findings == tuple(one for one in judged.findings if one.rule in FIT)
    assert len(judged.findings) > len(fit.findings)
    before, after = ({thing.name: thing for thing in one.things} for one in (first, placed))
    assert before["other"].shape == after["other"].shape
    move = after["other"].stands @ before["other"].stands.inverse()
    assert move.offset == pytest.approx([-0.15, 0.0, 0.0])
    assert before["stone"].stands == after["stone"].stands
    assert placed.things == looks.things


def test_looks_have_no_bed_cut_around_a_stone_and_show_the_same_also_cut_open():
    model = small_scenes.build("""
bed: {kind: substrate, depth: 60}
stone: {kind: rock, seed: 3, size: [160, 120, 100], at: {left: 400, front: 200, ground: -40}}
""")
    bed, plane = model.body("bed"), {"cut": ("y", 0.2), "view": "front"}
    looks, opened = looks_of(model), looks_of(model, **plane)
    assert bed.solid.carving is not None
    assert "_cut" not in vars(bed.solid.shape)
    top = next(piece for piece in looks.pieces if piece.body == "bed").points[:, 2].max()
    assert top == pytest.approx(0.06)
    (faces,) = (piece for piece in opened.pieces if piece.body == "bed" and not piece.lighted)
    a, b, c = (faces.points[faces.faces[:, k]].astype(float) for k in range(3))
    shown = np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2.0
    rings = section(bed.solid, origin=(0.0, 0.2, 0.0), normal=(0.0, 1.0, 0.0))
    exact = abs(sum(np.sum(ring[:-1, 0] * ring[1:, 2] - ring[1:, 0] * ring[:-1, 2]) for ring in rings)) / 2.0
    assert exact < 0.95 * 1.2 * 0.06  # the stone takes some of it
    assert shown == pytest.approx(exact, rel=1e-4)


def test_a_picture_comes_first_where_shape_or_water_is_another_one_and_findings_where_things_moved(
    scene_file,
):
    bench, text, told = Bench(scene_file), scene_file.read_text(), {}
    for name, new in {
        "opened": text,
        "moved": text.replace("left: 290", "left: 300"),
        "larger": text.replace("left: 290", "left: 300").replace("size: [70, 60, 50]", "size: [70, 60, 55]"),
        "deeper": text.replace("water: 120 ", "water: 130 "),
    }.items():
        answers = list(bench.answers(Text(len(told) + 1, new)))
        told[name] = [type(answer) for answer in answers]
        assert answers[0].things == answers[told[name].index(Looks)].things
    assert told["moved"] == [Placed, Fit, Judged, Levels, Looks]
    assert told["opened"] == told["larger"] == told["deeper"] == [Placed, Looks, Fit, Judged, Levels]
    wants = (
        "judged",
        "looks",
    )  # of what a hand drags it is seen where it goes, whatever becomes of its shape
    let_go = bench.answers(Text(9, text.replace("size: [70, 60, 50]", "size: [70, 60, 56]"), wants))
    assert [type(answer) for answer in let_go] == [Placed, Fit, Judged, Levels, Looks]


def test_of_looks_only_surfaces_that_are_others_are_sent_and_all_are_told(scene_file):
    bench, text = Bench(scene_file), scene_file.read_text()
    *_, first = bench.answers(Text(1, text, ("looks",)))
    *_, moved = bench.answers(Text(2, text.replace("left: 290", "left: 291"), ("looks",)))
    without = text[: text.index("  stone:")] + text[text.index("  other:") :]
    *_, fewer = bench.answers(Text(3, without, ("looks",)))
    for looks, before in ((first, None), (moved, first), (fewer, moved), (first, fewer)):
        sent = pickle.loads(pickle.dumps(shortened(looks, before)))
        told = completed(sent, before)
        assert [one.body for one in told.pieces] == [one.body for one in looks.pieces]
        assert set(told.light) == set(looks.light)
        for one, other in [*zip(told.pieces, looks.pieces, strict=True)] + [
            (told.light[place], looks.light[place]) for place in looks.light
        ]:
            assert all(
                np.array_equal(getattr(one, each.name), getattr(other, each.name)) for each in fields(other)
            )
        same = {
            place: old
            for place, old in sent.as_before.items()
            if not any(len(getattr(sent.pieces[place], name)) for name in ARRAYS)
        }
        kept = {told.pieces[place].body for place in same}
        assert all(told.pieces[place] is before.pieces[old] for place, old in same.items())
        assert ("tank.front" in kept) == (before is not None)
        assert "other" not in kept or looks is not moved
        if (
            looks is moved
        ):  # of the stone that stays the light alone is sent, and its surface is the very same
            (place,) = (at for at, one in enumerate(looks.pieces) if one.body == "stone")
            assert not any(len(getattr(sent.pieces[place], name)) for name in ARRAYS if name != "colours")
            assert len(sent.pieces[place].colours)
            assert told.pieces[place].points is before.pieces[sent.as_before[place]].points


class Line:
    """The other end of a connection: what is asked at first, and what more once an answer of a sort comes.

    ``late`` is asked once the line was looked at so many times since the first answer.
    """

    def __init__(self, first, then, late=(), looks=0):
        self.waiting, self.then, self.told = list(first), then, []
        self.late, self.looks = list(late), looks

    def poll(self, _seconds=0.0):
        self.looks -= bool(self.told)
        if self.looks < 0:
            self.waiting += self.late
            self.late = []
        return bool(self.waiting)

    def recv(self):
        if not self.waiting:
            raise EOFError
        return self.waiting.pop(0)

    def send(self, answer):
        self.told.append((type(answer), answer.version))
        self.waiting += self.then.pop(type(answer), [])


def told_of(line, file, monkeypatch, later=()):
    """Answer what a line asks; the settings of this process stay."""
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    monkeypatch.setattr("layout3d.view.looks.LATER", later)
    serve(line, str(file), gc.get_threshold())
    return line.told


def test_what_takes_long_to_load_is_loaded_once_nothing_is_asked(scene_file, tmp_path, monkeypatch):
    """By a process that judges; not before its first answers, nor while a question waits."""
    monkeypatch.syspath_prepend(tmp_path)
    line = Line([Text(1, scene_file.read_text(), ())], {Levels: [Text(3, scene_file.read_text(), ())]})
    for name in ("slow_one", "slow_two"):
        (tmp_path / f"{name}.py").write_text("import told_here\ntold_here.line.told.append(__name__)\n")
    monkeypatch.setitem(sys.modules, "told_here", SimpleNamespace(line=line))
    names = ("slow_one", "slow_two")
    told_of(line, scene_file, monkeypatch, names)
    assert line.told == []
    line.waiting.append(Text(2, scene_file.read_text()))
    told_of(line, scene_file, monkeypatch, names)
    assert line.told == [(Placed, 2), (Looks, 2), (Fit, 2), (Judged, 2), (Levels, 2), *names]
    for name in names:
        del sys.modules[name]


def test_looks_that_were_filed_are_made_once_nothing_is_asked_and_a_change_finds_them(
    scene_file, monkeypatch
):
    """Broken off for a question, and taken up again where it was."""
    monkeypatch.setattr(wanted, "OFTEN", 0.0)
    text, dry = scene_file.read_text(), stage._dry
    line, changed = Line([Text(1, text)], {}), Text(2, text.replace("left: 290", "left: 172.5"))

    def noted(body, *rest):
        if (Levels, 1) in line.told and (Near, 1) not in line.told:
            line.waiting.append(Between("stone", "other"))
        line.told.append(body.name)
        return dry(body, *rest)

    def then_changed(model):
        get_ready(model)
        line.waiting.append(changed)

    list(Bench(scene_file).answers(Text(1, text, ("looks",))))
    filed = stage.set_stage(model := build_model(read_scene(scene_file)), filled=True)
    file_away(bytes.fromhex(filed.made_of), DRAWN, (filed.pieces, filed.lines))  # however soon it was made
    forget()
    pieces._LATELY.clear()  # as in a process of its own
    monkeypatch.setattr(stage, "_dry", noted)
    monkeypatch.setattr(answers, "get_ready", then_changed)
    told = told_of(line, scene_file, monkeypatch)
    opened = [(Placed, 1), (Looks, 1), (Fit, 1), (Judged, 1), (Levels, 1)]
    assert told[:8] == [*opened, "stone", (Near, 1), "other"]
    assert told[8:] == [(Placed, 2), (Fit, 2), (Judged, 2), (Levels, 2), "other", (Looks, 2)]
    made = stage.set_stage(model, filled=True, anew=True)
    for one, other in zip(filed.pieces, made.pieces, strict=True):
        assert all(np.array_equal(getattr(one, name), getattr(other, name)) for name in ARRAYS)


def test_what_else_is_asked_and_cannot_be_had_takes_no_findings_away(scene_file, monkeypatch):
    text = scene_file.read_text()
    line = Line([Text(1, text, ("judged",)), Between("stone", "nothing of that name")], {})
    assert told_of(line, scene_file, monkeypatch)[2:] == [(Judged, 1), (Levels, 1), (Trouble, 1)]


def test_what_is_left_to_be_told_of_a_text_is_left_out_once_another_one_waits(scene_file, monkeypatch):
    text = scene_file.read_text()
    line = Line([Text(1, text)], {Placed: [Text(2, text, ("judged",))]})
    told = told_of(line, scene_file, monkeypatch)
    assert told == [(Placed, 1), (Placed, 2), (Fit, 2), (Judged, 2), (Levels, 2)]


@pytest.mark.parametrize("wants", ["looks", "judged"])
def test_what_is_being_made_of_a_text_is_broken_off_for_a_newer_one(scene_file, monkeypatch, wants):
    monkeypatch.setattr(wanted, "OFTEN", 0.0)
    text = scene_file.read_text().replace("left: 110", "left: 111")
    newer = Text(2, text.replace("left: 290", "left: 291"), ("judged",))
    line = Line([Text(1, text, (wants,))], {}, [newer], looks=4)  # that is in the midst of it
    assert told_of(line, scene_file, monkeypatch) == [
        (Placed, 1),
        (Placed, 2),
        (Fit, 2),
        (Judged, 2),
        (Levels, 2),
    ]


@pytest.mark.parametrize(("left", "finished"), [("291", 2), ("292", 1)])
def test_what_is_judged_ahead_is_broken_off_for_another_text_alone(scene_file, monkeypatch, left, finished):
    monkeypatch.setattr(wanted, "OFTEN", 0.0)
    text = scene_file.read_text()
    line = Line([Ahead(text.replace("left: 290", "left: 291"))], {})
    found = []

    def judged(model, version=0):
        if not version:  # in the midst of what is judged ahead
            line.waiting.append(Text(2, text.replace("left: 290", f"left: {left}"), ("judged",)))
        found.append(answer := plain(model, version))
        return answer

    plain = answers.judged
    monkeypatch.setattr(answers, "judged", judged)
    assert told_of(line, scene_file, monkeypatch) == [(Placed, 2), (Fit, 2), (Judged, 2), (Levels, 2)]
    assert len(found) == finished
    assert found[0].findings == found[-1].findings


def test_files_of_a_text_that_was_judged_ahead_are_told_with_it(scene_file):
    trimesh.creation.box((0.05, 0.04, 0.03)).export(scene_file.with_name("found.stl"))
    text = scene_file.read_text().replace(
        "    seed: 3\n    size: [70, 60, 50]", "    mesh: found.stl\n    file_unit: m"
    )
    bench = Bench(scene_file)
    assert not list(bench.answers(Ahead(text)))
    told = [one for one in bench.answers(Text(1, text, ("judged",))) if isinstance(one, Files | Mistakes)]
    assert [path.name for path in told[-1].paths] == ["found.stl"]


def test_nobody_waits_for_a_process_that_takes_no_questions_in_the_midst_of_a_step(monkeypatch):
    """Of texts that are more than the line holds the last is sent once the process listens again."""
    ends = []

    class Busy:
        def __init__(self, *, target, args, daemon):
            ends.append(multiprocessing.connection.Connection(os.dup(args[0].fileno())))

        is_alive = staticmethod(lambda: bool(ends) and not ends[0].closed)
        start = staticmethod(lambda: None)
        join = staticmethod(lambda _seconds=0.0: None)
        kill = staticmethod(lambda: ends[0].close())

    context = SimpleNamespace(Pipe=multiprocessing.Pipe, Process=Busy)
    monkeypatch.setattr(multiprocessing, "get_context", lambda _: context)
    asked = Beside(Path("none.yaml"))

    def ask():
        for version in range(200):
            asked.ask(Text(version, "x" * 50_000))
        asked.ask(Between("one", "other"))

    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    asking.join(20.0)
    assert not asking.is_alive()
    heard = []
    while not isinstance(heard[-1] if heard else None, Between):
        heard.append(ends[0].recv())
    assert heard[-2].version == 199
    assert len(heard) < 100
    for version in range(10):
        asked.ask(Text(version, "x" * 500_000))
    asked.close()
    assert ends[0].closed


def test_looks_are_broken_off_in_the_midst_of_their_light(scene_file, monkeypatch):
    monkeypatch.setattr(wanted, "OFTEN", 0.0)
    model, asked = build_model(read_scene(scene_file)), itertools.count()
    monkeypatch.setattr(stage, "kept", lambda _key, _form, make: make())
    monkeypatch.setattr(stage, "remembered", lambda *_inputs, make, size=None: make())
    with wanted.wanted_unless(lambda: next(asked) > 9), pytest.raises(wanted.NotWanted) as broken:
        looks_of(model)
    assert broken.traceback[-3].name == "light_on"
    wanted.go_on()  # nobody asks outside of the block


def test_the_last_text_that_could_be_used_is_drawn_where_its_looks_were_broken_off(scene_file, monkeypatch):
    text = scene_file.read_text()
    line = Line([Text(1, text)], {Placed: [Text(2, text.replace("rock", "rokc"))]})
    assert told_of(line, scene_file, monkeypatch) == [(Placed, 1), (Mistakes, 2), (Looks, 1)]


def test_another_colour_is_drawn_behind_what_the_text_still_has_to_tell(scene_file, monkeypatch):
    text = scene_file.read_text()
    line = Line([Text(1, text, ("judged", "looks"))], {Placed: [Dress("height")]})
    told = told_of(line, scene_file, monkeypatch)
    assert told == [(Placed, 1), (Fit, 1), (Judged, 1), (Levels, 1), (Looks, 1), (Looks, 1)]
    assert told_of(Line([Text(1, text, ("judged",)), Dress("height")], {}), scene_file, monkeypatch)[1:] == [
        (Fit, 1),
        (Judged, 1),
        (Levels, 1),
        (Looks, 1),
    ]


def test_of_what_did_not_move_only_light_and_shade_are_made_anew(scene_file, monkeypatch):
    made, dry, text = [], stage._dry, scene_file.read_text()

    def noted(body, *rest):
        made.append(body.name)
        return dry(body, *rest)

    monkeypatch.setattr(stage, "_dry", noted)
    monkeypatch.setattr(stage, "kept", lambda _key, _form, make: make())  # no stage of a run before
    bench = Bench(scene_file)
    (_, before) = bench.answers(Text(1, text, ("looks",)))
    made.clear()
    (_, after) = bench.answers(Text(2, text.replace("left: 290", "left: 171.5"), ("looks",)))
    assert made == ["other"]
    one, other = (next(piece for piece in looks.pieces if piece.body == "stone") for looks in (before, after))
    assert (one.points == other.points).all()
    assert (one.colours != other.colours).any()  # it lies in the shade of the other one now

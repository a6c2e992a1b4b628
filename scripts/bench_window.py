"""Time what a user of the window waits for: frames, findings after a part is let go, a file saved beside it.

    python scripts/bench_window.py

Times by the clock count; the machine should be quiet, for window and answers take both of its cores.
``scripts/bench.py`` runs this at its end, after the bare kernel on the same meshes.
"""

from __future__ import annotations

import gc
import math
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from itertools import pairwise, product
from pathlib import Path

from PySide6.QtCore import QPoint, QSettings, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layout3d.cli import GARBAGE
from layout3d.draw.screen import Screen
from layout3d.live import Mover
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene
from layout3d.scene.starter import starter_text
from layout3d.solid.placement import Placement
from layout3d.view.answers import Answer, Fit, Mistakes
from layout3d.view.canvas import Canvas
from layout3d.view.eye import turned
from layout3d.view.looks import looks_of
from layout3d.view.session import whole_window
from layout3d.view.window import Window

sys.path.append(str(Path(__file__).resolve().parent.parent / "tests" / "aids"))  # its screen is theirs

from screens import unseen_screen
from windows import middle_of

GORGE = Path(__file__).parent.parent / "scenes" / "gorge.yaml"
PULLS = ((23, 7), (-37, 11), (31, -17), (-13, 9), (27, 5), (-41, -3))  # of a piece, [pixels]
PIECES = ("boulder_1", "shoulder", "fallen_log", "old_root")  # of the showcase: what costs little, and most
PAUSES = (0.0, 0.2)  # before it is let go, [s]
HAND = 0.016  # between two places of a mouse that moves, [s]
DEPTHS = ("7", "6.5", "6.25", "5.75")  # of water in the starter, and how far its boulder lies from the left
PLACES = ("11", "11.25", "10.75", "10.5")
LONGEST = 120.0  # that anything is waited for, [s]


def frames(app: QApplication, built: Model) -> None:
    """Tell what a frame takes on the showcase, beside the bare drawing of the same surfaces."""
    looks, rounds, moved = looks_of(built), 5, 0.0
    boxes, mover = [thing.box for thing in looks.things], Mover(built, "boulder_1")
    canvas = Canvas()
    canvas.resize(1400, 900)
    canvas.show()
    app.processEvents()
    bare = Screen((1400, 900), samples=1.0)

    def opened() -> None:
        canvas.show_looks(looks)
        canvas.look_from("three_quarter", boxes, whole=True)
        canvas.paintGL()

    def moving() -> None:
        canvas.look(turned(canvas.eye, 0.05, 0.0))
        canvas.paintGL()

    def seized() -> None:
        canvas.hold({"boulder_1"})
        canvas.paintGL()

    def dragged() -> None:
        nonlocal moved
        moved += 0.002
        place = Placement.at((moved, 0.0, 0.0))
        canvas.shift("boulder_1", place)
        touch = mover.at(place)
        canvas.tint({"boulder_1": "fault" if touch.meets else "note"} | {b: "fault" for _, b in touch.meets})
        canvas.paintGL()

    def at_rest() -> None:
        canvas.full = False
        canvas.at_rest()
        canvas.paintGL()

    def drawn() -> None:
        bare.renderer.GetActiveCamera().Azimuth(3.0)
        bare.window.Render()

    faces, fewer = (sum(len(p.faces) for p in kind) for kind in (looks.pieces, looks.light.values()))
    print(
        f"\nthe window, 1400 x 900, {faces:,} faces of which {fewer:,} are left while it moves; load", end=" "
    )
    print(f"{os.getloadavg()[0]:.1f}\n{'':49s} {'processor':>10s} {'wall':>8s}   goal (wall)")
    for piece in looks.pieces:
        bare.add(piece, scale=1.0)
    drawn()
    for words, call, goal, times in (
        ("looks on the screen and first frame", opened, "3 s after the build", 1),
        ("a frame while it turns", moving, "0.100 s", rounds),
        ("a frame at rest", at_rest, "1 s", rounds),
        ("a part is seized: all others once, and it", seized, "0.100 s", 1),
        ("a place of it: answer, colours and frame", dragged, "0.033 s", rounds),
        ("the bare drawing, all faces, nothing peeled", drawn, "", rounds),
    ):
        each = []
        for _ in range(times):
            wall, own = time.perf_counter(), time.process_time()
            call()
            each.append((time.process_time() - own, time.perf_counter() - wall))
        own, wall = (statistics.median(column) for column in zip(*each, strict=True))
        print(f"  {words:47s} {own:8.3f} s {wall:6.3f} s   {goal}", flush=True)
    bare.close()
    canvas.close()


class Hand:
    """A hand and an eye at a whole window."""

    def __init__(self, app: QApplication, file: Path) -> None:
        kept = QSettings(str(file.with_suffix(".ini")), QSettings.Format.IniFormat)
        self.app, self.file, self.whole = app, file, whole_window(file, settings=kept)
        self.window.resize(1400, 900)
        self.window.show()
        self.fit, self.refused = 0.0, -1  # when what fits was told last; the last text that was refused
        take = self.window.take_answer

        def noted(answer: Answer) -> None:
            take(answer)
            if isinstance(answer, Fit | Mistakes) and answer.version == self.window.version:
                self.fit = time.perf_counter()
            if isinstance(answer, Mistakes):
                self.refused = answer.version

        self.window.take_answer = noted  # type: ignore[method-assign]  # to look over its shoulder
        self.until(self.drawn)
        self.wait(2.0)

    @property
    def window(self) -> Window:
        return self.whole.window

    def until(self, done: Callable[[], bool]) -> float:
        """Let the window work until something is done; return when that was."""
        last = time.perf_counter() + LONGEST
        while not done():
            if time.perf_counter() > last:
                raise TimeoutError(f"nothing within {LONGEST:g} s (Hand.until)")
            self.app.processEvents()
            time.sleep(0.001)
        return time.perf_counter()

    def wait(self, seconds: float) -> None:
        end = time.perf_counter() + seconds
        self.until(lambda: time.perf_counter() >= end)

    def told(self) -> bool:
        """Tell whether all is told of the text: findings, or why it can't be used, as of too short a leg."""
        return self.window.is_told or self.refused == self.window.version

    def drawn(self) -> bool:
        looks, version = self.window.looks, self.window.version
        return self.refused == version or (self.told() and looks is not None and looks.version == version)

    def seen(self, part: str) -> QPoint:
        """Return a place of the picture where a part is seen, near its middle."""
        around = sorted(product(range(-60, 61, 4), repeat=2), key=lambda by: math.hypot(*by))
        places = (middle_of(self.window, part) + QPoint(*by) for by in around)
        return next(at for at in places if self.window.canvas.under(at.x(), at.y())[0] == part)

    def let_go(self, part: str, pull: tuple[int, int], pause: float) -> tuple[float, float]:
        """Drag a part; return after which time what fits is told, and after which all findings are, [s]."""
        canvas, left, start = self.window.canvas, Qt.MouseButton.LeftButton, self.seen(part)
        press, release = (partial(call, canvas, left) for call in (QTest.mousePress, QTest.mouseRelease))
        press(Qt.KeyboardModifier.NoModifier, start)
        end = start + QPoint(*pull)
        for step in range(1, 9):
            QTest.mouseMove(canvas, start + (end - start) * step / 8)
            self.wait(HAND)
        self.wait(pause)
        begun, text = time.perf_counter(), self.window.document.text
        release(Qt.KeyboardModifier.NoModifier, end)
        if self.window.document.text == text:
            raise RuntimeError(f"{part} was not moved (Hand.let_go)")
        done = self.until(self.told)
        self.until(self.drawn)
        self.wait(1.0)
        return self.fit - begun, done - begun

    def saved_beside(self, old: str, new: str) -> tuple[float, float]:
        """Save the file as an editor does; return when all findings are told and when it is drawn, [s]."""
        text = self.file.read_text()
        assert text.count(old) == 1, "the starter has it once (Hand.saved_beside)"
        other, version = self.file.with_suffix(".new"), self.window.version
        other.write_text(text.replace(old, new))
        begun = time.perf_counter()
        other.replace(self.file)
        self.until(lambda: self.window.version > version)
        looks = self.window.looks
        drawn = 0.0

        def done() -> bool:
            nonlocal drawn
            if not drawn and self.window.looks is not looks:
                drawn = time.perf_counter()
            return bool(drawn) and self.window.is_told

        told = self.until(done)
        self.wait(1.0)
        return told - begun, drawn - begun


def hands(app: QApplication, folder: Path) -> None:
    """Tell when all findings are there after a piece of the showcase is let go, and after a file is saved."""

    def fresh_hand(name: str, text: str) -> Hand:
        """Open a window to which nothing is known from a run before."""
        os.environ["LAYOUT3D_CACHE"] = str(folder / f"kept for {name}")
        file = folder / f"{name}.yaml"
        file.write_text(text)
        return Hand(app, file)

    print(f"  {'by the clock, from letting a piece go':47s} {'median':>8s}   {'worst':>8s}   goal")
    for pause in PAUSES:
        hand = fresh_hand(f"held {pause:g}", GORGE.read_text())
        held = f"held still for {pause:g} s" if pause else "in full swing"
        for piece in PIECES:
            each = [hand.let_go(piece, pull, pause) for pull in PULLS]
            for words, times in zip(("what fits", "all findings"), zip(*each, strict=True), strict=True):
                row(f"{piece}, {held}: {words}", times, "0.300 s" if words == "all findings" else "")
        hand.whole.end()
    hand = fresh_hand("saved", starter_text())
    print("  by the clock, from saving the starter in an editor")
    moves = [f"left: {left}, front: 6, ground" for left in PLACES]
    for what, lines in (
        ("a stone moved", moves),
        ("other water", [f"water_depth: {depth}" for depth in DEPTHS]),
    ):
        each = [hand.saved_beside(*change) for change in pairwise(lines)]
        for words, times in zip(
            ("all there is to tell", "the picture"), zip(*each, strict=True), strict=True
        ):
            row(f"{what}: {words}", times, "0.300 s")
    hand.whole.end()


def row(words: str, times: tuple[float, ...], goal: str) -> None:
    print(f"    {words:45s} {statistics.median(times):8.3f} s {max(times):6.3f} s   {goal}", flush=True)


def main() -> None:
    if shutil.which("Xvfb") is None:
        print("\nthe window: not timed, Xvfb is not installed")
        return
    gc.set_threshold(GARBAGE, 20, 20)  # as the command has it
    with unseen_screen("1920x1200x24"), tempfile.TemporaryDirectory() as folder:
        app = QApplication(["bench"])
        frames(app, build_model(read_scene(GORGE)))
        hands(app, Path(folder))
        sys.stdout.flush()
        os._exit(0)  # the libraries of the window miss their screen while they are cleared away


if __name__ == "__main__":
    main()

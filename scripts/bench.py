"""Time what a user waits for, as a share of what the bare geometry kernel takes on the same meshes.

    python scripts/bench.py [--rounds N] [--quick]

Prints medians with their spread, beside the goals. L is the processor time of the lean kernel: manifold3d and
coal called directly for the least that the showcase's fit and volumes need; what that is, is printed. Times
are processor times, of all threads; the machine should still be quiet, for shared cores slow each other.
"""

from __future__ import annotations

import argparse
import dataclasses
import math
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib import metadata
from pathlib import Path
from typing import Any, TypeAlias

import coal
import manifold3d
import numpy as np
from numpy.typing import NDArray

from layout3d.checks.base import Rule, rules
from layout3d.checks.examine import examine
from layout3d.checks.measure import Joins
from layout3d.keep import forget
from layout3d.live import Live, Mover
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene
from layout3d.solid.distance import gap, near_pairs
from layout3d.solid.level import volume_below
from layout3d.solid.shape import Placement, Shape, Solid, tree_of
from layout3d.water.figures import figures
from layout3d.water.share import reaches_into

Array: TypeAlias = NDArray[Any]
Mesh: TypeAlias = tuple[Array, Array]
MARGIN = 0.025  # of the largest clearance that rules ask for by themselves, [m]
ROOT = Path(__file__).parent.parent
GORGE = ROOT / "scenes" / "gorge.yaml"
COMPILED = tempfile.TemporaryDirectory(prefix="bench-modules-")


def spread(times: list[float]) -> str:
    """Return median and range in words."""
    return f"{statistics.median(times):7.3f} s  ({min(times):.3f} to {max(times):.3f}, {len(times)} rounds)"


def repeat(rounds: int, call: Callable[[], object]) -> list[float]:
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        call()
        times.append(time.perf_counter() - begin)
    return times


WATCHED = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
sys.exit(code)
"""
"""Tells what a command takes of memory at most, [kB]; a child of this process counts what this one holds."""


def process(arguments: list[str], cache: str, seen: list[int] | None = None) -> float:
    """Return the processor time of a whole process of the command, [s].

    It reads compiled modules, as an installed command does, whatever this process is told of writing them.
    ``seen`` takes the most memory that it held, [kB].
    """
    environment = os.environ | {"LAYOUT3D_CACHE": cache, "PYTHONPYCACHEPREFIX": COMPILED.name}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    command = [sys.executable, "-m", "layout3d", *arguments]
    if seen is not None:
        command = [sys.executable, "-c", WATCHED, *command]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(command, env=environment, capture_output=True, check=False)
    if done.returncode not in (0, 1):
        raise SystemExit(f"layout3d {' '.join(arguments)} failed:\n{done.stderr.decode()}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if seen is not None:
        seen.append(int(done.stdout))
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def processor(call: Callable[[], object]) -> float:
    """Return the processor time of a call, of all its threads, [s]."""
    begin = time.process_time()
    call()
    return time.process_time() - begin


class Lean:
    """The least that the libraries have to do for the fit and volumes of a model, on its own meshes.

    One import of each mesh that is needed, one tree for each body of a near pair, one distance a near pair,
    a common part where it is 0, and one batch difference of the inside and all bodies in it. Leaves, which
    are taken off as a sum, and pairs that are joined don't count.
    """

    def __init__(self, model: Model) -> None:
        bodies = [body for body in model.bodies if body.kind != "foliage"]
        near = near_pairs([body.solid for body in bodies], MARGIN)
        joins = Joins(model)
        self.pairs = [(i, j) for i, j in near if not joins.how(bodies[i], bodies[j])]
        self.inside = _mesh(model.tank.interior)
        self.meshes = [_mesh(body.solid) for body in bodies]
        self.cutters = [
            _mesh(b.uncut or b.solid) for b in bodies if reaches_into(b.solid, model.tank.interior)
        ]
        self.paired = sorted({k for pair in self.pairs for k in pair})

    def __str__(self) -> str:
        cut = sum(len(faces) for _, faces in self.cutters)
        return (
            f"{len(self.paired)} trees, {len(self.pairs)} near pairs, "
            f"one difference of {len(self.cutters)} bodies with {cut:,} triangles"
        )

    def run(self) -> None:
        """Do it once."""
        trees = {index: tree_of(*self.meshes[index]) for index in self.paired}
        here = coal.Transform3s()
        solids: dict[int, manifold3d.Manifold] = {}
        for pair in self.pairs:
            one, other = (trees[k] for k in pair)
            found = coal.DistanceResult()
            if coal.distance(one, here, other, here, coal.DistanceRequest(), found) <= 0:
                for k in pair:
                    solids.setdefault(k, _manifold(*self.meshes[k]))
                (solids[pair[0]] ^ solids[pair[1]]).volume()
        operands = [_manifold(*mesh) for mesh in (self.inside, *self.cutters)]
        manifold3d.Manifold.batch_boolean(operands, manifold3d.OpType.Subtract).volume()


def _mesh(solid: Solid) -> Mesh:
    return np.array(solid.vertices), np.array(solid.faces)


def _manifold(vertices: Array, faces: Array) -> manifold3d.Manifold:
    return manifold3d.Manifold(manifold3d.Mesh64(vertices, faces.astype(np.uint64)))


def sheets_and_templates(rounds: int) -> None:
    """Print the processor time of the showcase's sheets and templates as PDF; the goal is 20 s for each."""
    from layout3d.sheets.pdf import pdf
    from layout3d.sheets.sheets_of import sheets_of, style_of
    from layout3d.sheets.templates.collect import bench_files

    built = build_model(read_scene(GORGE))

    def drawn() -> object:
        return pdf([sheet.page for sheet in sheets_of(built, style_of(built))], "sheets")

    sheets = [processor(drawn) for _ in range(rounds)]
    templates = [processor(lambda: bench_files(built)) for _ in range(rounds)]
    print(
        f"\n  all sheets of the showcase  {spread(sheets)}\n  its templates               {spread(templates)}"
    )


def film(count: int = 12) -> None:
    """Print what a frame of a turntable of the showcase takes; the goal is 120 in 60 s on two cores.

    Pictures and the encoder's work together: 1 s of processor time a frame where both cores share it.
    """
    import resource
    import tempfile

    from layout3d.film.frame import Setting, sequence_kinds
    from layout3d.film.reel import write_reel
    from layout3d.film.shooting import shooting

    def used() -> float:
        both = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
        return sum(one.ru_utime + one.ru_stime for one in both)

    size = (1920, 1080)
    built = build_model(read_scene(GORGE))
    frames = sequence_kinds()["turntable"].frames(Setting(model=built, size=size, count=count))
    with tempfile.TemporaryDirectory() as folder, shooting(built, size=size) as shoot:
        shoot.picture(frames[0])  # the stage is set once
        begin, before = time.perf_counter(), used()
        write_reel(Path(folder) / "film", frames, shoot, name="turn", rate=24, facts={})
        took, waited = (used() - before) / count, (time.perf_counter() - begin) / count
    print(
        f"\n  a frame of a turntable, 1920 x 1080, PNG and H.264: {took:.2f} s of processor, {waited:.2f} s "
        "by the clock, goal 0.50"
    )


def against_the_kernel(rounds: int, *, quick: bool) -> None:
    """Print what a user waits for as a share of the lean kernel's time L, each beside its goal."""
    os.environ["LAYOUT3D_CACHE"] = "off"
    built = build_model(read_scene(GORGE))
    lean = Lean(built)
    print(f"\nthe lean kernel on the showcase: {lean}")
    least = [processor(lean.run) for _ in range(rounds)]
    unit = statistics.median(least)
    print(f"  L, processor time        {spread(least)}")
    print(f"\n  {'processor time':47s} {'share of L':>22s} {'goal':>6s}  {'median':>9s}")

    def row(what: str, times: list[float], goal: float | None = None) -> None:
        shares = sorted(t / unit for t in times)
        middle = f"{statistics.median(shares):.2f} ({shares[0]:.2f} to {shares[-1]:.2f})"
        aim = "" if goal is None else f"{goal:.2f}"
        print(f"  {what:47s} {middle:>22s} {aim:>6s}  {statistics.median(times):7.2f} s", flush=True)

    def fit_and_volumes() -> float:
        forget()
        bodies = tuple(
            dataclasses.replace(
                body,
                solid=Shape.trusted(body.solid.vertices, body.solid.faces).solid(),
                uncut=body.uncut and Shape.trusted(body.uncut.vertices, body.uncut.faces).solid(),
            )
            for body in built.bodies
        )
        model = dataclasses.replace(built, bodies=bodies)
        return processor(lambda: (examine(model, only=solid_rules), figures(model)))

    solid_rules = tuple(name for name, rule in rules().items() if not of_water_in_motion(rule))
    row("fit and volumes, caches off", [fit_and_volumes() for _ in range(rounds)], 1.3)

    def changed(field: str, values: list[str]) -> list[float]:
        forget()
        live = Live(GORGE)
        live.findings(), live.figures()
        return [
            processor(lambda value=value: (live.change({field: value}), live.findings(), live.figures()))
            for value in values[: max(1, rounds)]
        ]

    places = [f"{250 + 7 * k} mm" for k in range(1, 6)]
    row("live: a boulder moved, findings and figures", changed("parts.boulder_1.at.left", places), 0.03)
    lengths = [f"{1250 - 4 * k} mm" for k in range(1, 6)]
    row("live: a pipe's length changed", changed("bar_length", lengths), 0.07)
    quick_answer(built)
    if quick:
        return
    with tempfile.TemporaryDirectory() as folder:
        path, scene = f"{folder}/cache", str(GORGE)
        process(["check", str(ROOT / "scenes" / "bow.yaml")], "off")  # compiles the modules
        # modules are compiled once, as an installed package has them
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = f"{folder}/compiled"
        process(["check", scene], f"{path} of a run before")
        row("check, cold", [process(["check", scene], f"{path}{k}") for k in range(max(1, rounds // 2))], 2.0)
        row("check, unchanged scene", [process(["check", scene], f"{path}0") for _ in range(rounds)], 0.1)
        changes = [["check", scene, "--set", f"bar_z={735 - k}"] for k in range(1, rounds + 1)]
        row("check, warm, one value changed", [process(change, f"{path}0") for change in changes], 0.35)
        picture = ["picture", scene, "--to"]
        row("first picture", [process([*picture, f"{folder}/1.png"], f"{path}0")], 1.1)
        front = [*picture, f"{folder}/2.png", "--view", "front"]
        row("a further view", [process(front, f"{path}0") for _ in range(2)], 0.4)
        row("six views as one command", [process([*picture, folder, "--view", "all"], f"{path}0")], 2.5)
        row(
            "parts, cuts, order and templates",
            [process(["make", scene, "--to", f"{folder}/made"], f"{path}0")],
        )
        row("all sheets as one file", [process(["sheet", scene, "--to", f"{folder}/all.pdf"], f"{path}0")])


def quick_answer(built: Model) -> None:
    """Tell how many places a second of a log are judged, and how many the collision library alone judges."""
    log = built.body("fallen_log")
    mesh = log.solid.manifold.refine(max(1, math.ceil((50_000 / len(log.solid.faces)) ** 0.5))).to_mesh64()
    fine = Shape.trusted(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))
    moved = dataclasses.replace(log, solid=fine.solid())
    model = dataclasses.replace(built, bodies=tuple(moved if b is log else b for b in built.bodies))
    mover = Mover(model, log.part)
    others = [
        b for b in model.bodies if b.part != log.part and b.kind != "foliage" and b.group != "substrate"
    ]
    joins = Joins(model)
    trees = [(b, tree_of(*_mesh(b.solid))) for b in others if not joins.how(moved, b)]
    own, here = tree_of(*_mesh(moved.solid)), coal.Transform3s()
    places = [Placement.at(shift) for shift in np.random.default_rng(1).uniform(-0.3, 0.3, (200, 3))]

    def bare() -> None:
        for place in places:
            there = coal.Transform3s(place.rotation, place.offset)
            low, high = moved.solid.bounds + place.offset
            for body, tree in trees:
                if (low <= body.solid.bounds[1]).all() and (body.solid.bounds[0] <= high).all():
                    coal.collide(own, there, tree, here, coal.CollisionRequest(), coal.CollisionResult())

    def ours() -> None:
        for place in places:
            mover.at(place)

    def whole() -> None:
        for place in places:
            mover.at(place), mover.displaced(place)

    ours()  # makes the trees; those of the bare library are made above
    rates = [len(places) / processor(call) for call in (ours, bare, whole)]
    print(
        f"  quick answer, a log of {len(fine.faces):,} triangles: {rates[0]:.0f} places a second, the bare "
        f"library {rates[1]:.0f}; share {rates[0] / rates[1]:.2f}, goal 0.50; with the water displaced "
        f"{rates[2]:.0f}, goal 30"
    )
    one = fine.solid(log.solid.placement).moved(places[0]).manifold

    def naive() -> None:
        for body in others:
            (one ^ _manifold(*_mesh(body.solid))).volume()

    # the least of the naive way: closest points of each pair, which take longer still, are left out
    took = processor(naive)
    print(
        f"  the naive way, a boolean with every body, by itself: {took:.2f} s a place; complete evaluations "
        f"are {rates[2] * took:.0f} times as fast, goal 50"
    )


def many_triangles() -> None:
    """Tell memory and time of a check of some 1.4 million triangles."""
    rocks = "\n".join(
        f"  rock_{k}: {{kind: rock, seed: {k}, size: [120, 100, 80], detail: 20000, "
        f"at: {{left: {150 + 190 * (k % 10)}, front: {150 + 190 * (k // 10)}, ground: -10}}}}"
        for k in range(70)
    )
    text = (
        "format: 1\nunits: mm\nwaterline: 300\nparts:\n"
        "  tank: {kind: tank, inside: [2000, 1500, 500], glass: 15}\n"
        f"  bed: {{kind: substrate, depth: 50}}\n{rocks}\n"
    )
    count = sum(len(body.solid.faces) for body in build_model(read_scene("many.yaml", text=text)).bodies)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.yaml"
        path.write_text(text)
        most: list[int] = []
        took = process(["check", str(path)], "off", most)
    print(
        f"\n{count:,} triangles: {took / count * 1e6:.0f} µs a triangle, goal 30; "
        f"{most[0] / 2**20:.2f} GB at most, goal 1"
    )


def of_water_in_motion(rule: Rule) -> bool:
    """Tell whether a rule's file draws on the hydraulics."""
    module = sys.modules[rule.find.__module__]
    origins = {str(getattr(value, "__module__", "")) for value in vars(module).values()}
    return any(name.startswith("layout3d.flow") or name.endswith(".flow_words") for name in origins)


def kernel_steps(rounds: int) -> None:

    print("\nkernel, on a ball of about 80,000 triangles")
    scan = Shape.from_manifold(manifold3d.Manifold.sphere(0.2, 400))
    assert scan is not None
    print(f"  {len(scan.faces):,} triangles")
    levels = np.linspace(-0.2, 0.2, 200)
    print(f"  volume below 200 levels  {spread(repeat(rounds, lambda: volume_below(scan.solid(), levels)))}")
    a, b = scan.solid(), scan.solid(Placement.at((0.5, 0.1, 0.0)))
    gap(a, b)  # builds the trees

    def distance() -> None:
        forget()
        gap(a, b)

    print(f"  distance of two          {spread(repeat(rounds, distance))}")


def growth(rounds: int) -> None:
    """Tell how the time of a check grows with the parts."""

    print("\ngrowth: rocks in rows, 20 to 200, built and checked without caches")
    times: list[tuple[int, float]] = []
    for count in (20, 60, 200):
        rows = -(-count // 10)
        rocks = "\n".join(
            f"  rock_{k}: {{kind: rock, seed: {k}, size: [120, 100, 80], detail: 2000, "
            f"at: {{left: {150 + 190 * (k % 10)}, front: {150 + 190 * (k // 10)}, ground: -10}}}}"
            for k in range(count)
        )
        text = (
            "format: 1\nunits: mm\nwaterline: 300\nparts:\n"
            f"  tank: {{kind: tank, inside: [2000, {190 * rows + 150}, 500], glass: 15}}\n"
            f"  bed: {{kind: substrate, depth: 50}}\n{rocks}\n"
        )

        def check(text: str = text) -> None:
            forget()
            model = build_model(read_scene("growth.yaml", text=text))
            examine(model)
            figures(model)

        took = statistics.median(repeat(max(1, rounds // 3), check))
        times.append((count, took))
        print(f"  {count:4d} rocks  {took:7.3f} s  {1000 * took / count:6.1f} ms a rock")
    exponent = np.polyfit(np.log([n for n, _ in times]), np.log([t for _, t in times]), 1)[0]
    print(f"  time grows as parts to the power of {exponent:.2f}")


def main() -> None:
    options = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    options.add_argument("--rounds", type=int, default=5)
    options.add_argument("--quick", action="store_true", help="in this process only")
    given = options.parse_args()
    versions = ", ".join(f"{name} {metadata.version(name)}" for name in ("manifold3d", "coal", "numpy"))
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, {versions}")
    kernel_steps(given.rounds)
    against_the_kernel(given.rounds, quick=given.quick)
    sheets_and_templates(given.rounds)
    film()
    if not given.quick:
        growth(given.rounds)
        many_triangles()
    # by itself: the drawing library keeps to the screen that it drew on first, and this one goes at its end
    window = Path(__file__).with_name("bench_window.py")
    subprocess.run([sys.executable, str(window)], check=False, stderr=subprocess.DEVNULL)


if __name__ == "__main__":
    main()

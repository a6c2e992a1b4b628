"""Time what a user waits for, beside the bare geometry kernel on the same meshes in the same run.

    python scripts/bench.py [--rounds N] [--quick]

Prints medians with their spread. The bare kernel is manifold3d's booleans and coal's trees and distances
called directly on the meshes that the showcase is built into, for the pairs that the checks look at; ratios
are what to compare between machines. Cold starts with an empty cache folder, warm has seen the scene once.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib import metadata
from pathlib import Path

import coal
import manifold3d
import numpy as np

from layout3d.checks.base import Rule

ROOT = Path(__file__).parent.parent
GORGE, LEDGE = ROOT / "scenes" / "gorge.yaml", ROOT / "scenes" / "ledge.yaml"


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


def process(arguments: list[str], cache: str) -> float:
    """Time a whole process of the command."""
    environment = os.environ | {"LAYOUT3D_CACHE": cache}
    begin = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "layout3d", *arguments], env=environment, capture_output=True, check=False
    )
    if done.returncode not in (0, 1):
        raise SystemExit(f"layout3d {' '.join(arguments)} failed:\n{done.stderr.decode()}")
    return time.perf_counter() - begin


def whole_processes(rounds: int) -> None:
    print("\nwhole processes")
    for name, scene in (("gorge", GORGE), ("ledge", LEDGE)):
        with tempfile.TemporaryDirectory() as cache:
            print(f"  check {name}, cold cache   {process(['check', str(scene)], cache):7.3f} s")
            warm = [process(["check", str(scene)], cache) for _ in range(rounds)]
            print(f"  check {name}, warm cache {spread(warm)}")
            for command in ("flow", "outage"):
                times = [process([command, str(scene)], cache) for _ in range(max(2, rounds // 2))]
                print(f"  {command} {name}, warm cache {spread(times)}")
    with tempfile.TemporaryDirectory() as folder:
        to = str(Path(folder) / "first.png")
        cache = str(Path(folder) / "cache")
        process(["check", str(GORGE)], cache)
        print(f"  first picture of gorge     {process(['picture', str(GORGE), '--to', to], cache):7.3f} s")


def against_the_kernel(rounds: int) -> None:
    """Compare rules and volumes on a built model with the bare kernel on the same meshes."""
    from layout3d.checks.examine import examine
    from layout3d.checks.registry import rules
    from layout3d.keep import forget
    from layout3d.model.build import build_model
    from layout3d.model.model import Model
    from layout3d.scene.reader import read_scene
    from layout3d.solid.distance import near_pairs
    from layout3d.solid.shape import Shape
    from layout3d.water.figures import figures

    os.environ["LAYOUT3D_CACHE"] = "off"
    scene = read_scene(GORGE)
    built = build_model(scene)
    meshes = [(np.array(b.solid.vertices), np.array(b.solid.faces)) for b in built.bodies]
    triangles = sum(len(faces) for _, faces in meshes)
    margin = 0.025
    pairs = [
        (i, j)
        for i, j in near_pairs([b.solid for b in built.bodies], margin)
        if built.bodies[i].kind != "foliage"
        and built.bodies[j].kind != "foliage"
        and not built.joined(built.bodies[i], built.bodies[j])
    ]
    interior = built.tank.interior
    inside = [
        k
        for k, b in enumerate(built.bodies)
        if (b.solid.bounds[0] < interior.bounds[1]).all() and (b.solid.bounds[1] > interior.bounds[0]).all()
    ]
    print(
        f"\nthe showcase: {len(built.built)} parts, {len(meshes)} bodies, {triangles:,} triangles, "
        f"{len(pairs)} near pairs"
    )

    def bare() -> None:
        solids = [manifold3d.Manifold(manifold3d.Mesh64(v, f.astype(np.uint64))) for v, f in meshes]
        trees = {}
        for index in {k for pair in pairs for k in pair}:
            vertices, faces = meshes[index]
            tree = coal.BVHModelOBBRSS()
            tree.beginModel(len(faces), len(vertices))
            tree.addVertices(vertices)
            tree.addTriangles(faces.astype(np.int64))
            tree.endModel()
            trees[index] = tree
        here = coal.Transform3s()
        for i, j in pairs:
            found = coal.DistanceResult()
            if coal.distance(trees[i], here, trees[j], here, coal.DistanceRequest(), found) <= 0:
                (solids[i] ^ solids[j]).volume()
        joined = manifold3d.Manifold.batch_boolean([solids[k] for k in inside], manifold3d.OpType.Add)
        (interior.manifold - joined).volume()

    def fresh() -> Model:
        """Return the model with nothing computed: new shapes of the same arrays."""
        import dataclasses

        bodies = []
        for body in built.bodies:
            shape = Shape.trusted(body.solid.vertices, body.solid.faces)
            bodies.append(dataclasses.replace(body, solid=shape.solid()))
        return dataclasses.replace(built, bodies=tuple(bodies))

    solid_rules = tuple(name for name, rule in rules().items() if not of_water_in_motion(rule))
    ratios, ours_times, bare_times, flow_times = [], [], [], []
    for _ in range(rounds):
        forget()
        model = fresh()
        begin = time.perf_counter()
        examine(model, only=solid_rules)
        figures(model)
        middle = time.perf_counter()
        bare()
        end = time.perf_counter()
        examine(model)  # what is left: the pipe network, levels and outages
        ours_times.append(middle - begin)
        bare_times.append(end - middle)
        flow_times.append(time.perf_counter() - end)
        ratios.append((middle - begin) / (end - middle))
    print(f"  rules of fit and volumes {spread(ours_times)}")
    print(f"  bare kernel, same meshes {spread(bare_times)}")
    print(f"  rules of flow and flood  {spread(flow_times)}  (no geometry kernel to compare with)")
    middle_ratio = statistics.median(ratios)
    print(f"  ratio, round by round    {middle_ratio:7.2f}    ({min(ratios):.2f} to {max(ratios):.2f})")


def of_water_in_motion(rule: Rule) -> bool:
    """Tell whether a rule's file draws on the hydraulics."""
    module = sys.modules[rule.find.__module__]
    origins = {str(getattr(value, "__module__", "")) for value in vars(module).values()}
    return any(
        name.startswith("layout3d.flow") or name.endswith((".flood_told", ".flow_at")) for name in origins
    )


def kernel_steps(rounds: int) -> None:
    from layout3d.keep import forget
    from layout3d.solid.distance import gap
    from layout3d.solid.level import volume_below
    from layout3d.solid.primitives import ball
    from layout3d.solid.shape import Placement, Shape

    print("\nkernel, on a ball of about 80,000 triangles")
    base = ball(0.2)
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(np.array(base.vertices), np.array(base.faces, dtype=np.uint64))
    )
    mesh = solid.refine(max(2, round((80_000 / len(base.faces)) ** 0.5))).to_mesh64()
    vertices, faces = np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts, dtype=np.int64)
    scan = Shape.of(vertices, faces)
    print(f"  {len(faces):,} triangles")
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
    from layout3d.checks.examine import examine
    from layout3d.keep import forget
    from layout3d.model.build import build_model
    from layout3d.scene.reader import read_scene
    from layout3d.water.figures import figures

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
    options.add_argument("--quick", action="store_true", help="kernel and ratio only")
    given = options.parse_args()
    versions = ", ".join(f"{name} {metadata.version(name)}" for name in ("manifold3d", "coal", "numpy"))
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, {versions}")
    kernel_steps(given.rounds)
    against_the_kernel(given.rounds)
    if not given.quick:
        growth(given.rounds)
        whole_processes(given.rounds)


if __name__ == "__main__":
    main()

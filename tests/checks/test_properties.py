"""What must hold for every rule: its scene has its fault and no other; it declares the limits that it reads;
mirrored, in other units or another order, a scene has the same findings, told in its own units."""

import functools
import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from plain_scenes import as_text, as_texts

from layout3d.catalog import default
from layout3d.catalog.catalog import Catalog
from layout3d.checks.base import rules
from layout3d.checks.examine import examine
from layout3d.model.build import build_model
from layout3d.report.rules import LAID_LIMITS, TOLD_LIMITS
from layout3d.scene.reader import read_scene
from layout3d.units import show, shown_in

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
RULES = list(rules())
SWAPPED = {
    "left": "right",
    "right": "left",
    "left_to_right": "right_to_left",
    "right_to_left": "left_to_right",
}
NOT_LENGTHS = {
    "like",
    "format", "units", "title", "why", "kind", "model", "outlet", "pipe", "tube", "bulkhead", "form", "mesh",
    "panel", "panels", "tempered", "embeds", "faces", "against", "fixed_to", "name", "end_at",
    "detail", "seed", "angles", "in", "from", "flow", "plugged", "between", "count", "speed", "air", "power",
    "roughness", "reduce",
}  # fmt: skip
"""Keys of the scenes whose figures are no lengths; a faulty scene with another such key adds it here."""
PLACE_IS_ONE_OF_MANY = {
    "background-cover",
    "buried",
    "drip-hole-blocked",
    "drip-hole-spacing",
    "drip-shut-in",
    "front-glass",
    "pipe-to-glass",
    "pipe-to-pipe",
    "wall-stress",
}
"""Rules that tell one place of several that are equally bad: which one may change in a mirror."""
GROWN = {"outside", "bed-on-bed"}
"""Scenes with a grown stone or grown ripples, which can't be asked for mirrored."""
FACETED = {"sand-in-channel"}
"""Rules that measure a volume between round walls, whose flat sides no mirror turns over."""
ORDERED = {"bed-on-bed"}
"""Scenes whose order tells what lies on what."""


def raw(rule):
    return as_texts((FAULTY / f"{rule}.yaml").read_text(encoding="utf-8"))


def found(scene, folder=FAULTY):
    model = build_model(read_scene(folder / "made.yaml", text=as_text(scene)))
    return examine(model)


def limits_read(rule, model):
    """Return the limits that are read while a rule runs: by the rules' own code, and by all that it asks.

    What pipework, drains and events are made with is kept with the model, so it shows only on a fresh one.
    """
    own, asked, limit = set(), set(), Catalog.limit

    def noted(self, name):
        caller = sys._getframe(1).f_globals["__name__"]
        (own if caller.startswith("layout3d.checks.") else asked).add(name)
        return limit(self, name)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Catalog, "limit", noted)
        list(rules()[rule].find(model))
    return own, asked


@functools.cache
def original(rule):
    """Return a rule's faulty model, which limits the rule read in it, and what all rules find: made once."""
    model = build_model(read_scene(FAULTY / f"{rule}.yaml"))
    read = limits_read(rule, model)  # first, while nothing that is kept hides what it reads
    return model, read, examine(model)


@pytest.mark.parametrize("rule", RULES)
def test_a_faulty_scene_has_the_fault_of_its_rule_and_no_other(rule):
    _, _, findings = original(rule)
    (fault,) = [f for f in findings if f.severity != "note"]
    assert (fault.rule, fault.severity) == (rule, "fault")
    assert fault.parts
    assert fault.message
    assert fault.remedy
    assert len(fault.at) == 3


def figures(findings):
    """Return what must be the same whatever a scene's order and units."""
    return sorted((f.rule, f.severity, tuple(sorted(f.parts))) for f in findings)


def measures(findings):
    ordered = sorted(findings, key=lambda f: (f.rule, f.parts))
    return [value for f in ordered for value in (f.measured, f.limit) if value is not None]


# -- limits ------------------------------------------------------------------------------------------------

REACHES_MORE = {
    "bulkhead-to-seam": (
        "",
        {"holes": "drain: {panel: back, left: 60, bottom: 200, bulkhead: 1/2 in thin, flange: outside}"},
    ),
    "flow-operating-point": (
        "pump: {kind: pump, model: small 1000, at: {left: 150, back: 120, bottom: 0}}",
        {},
    ),
    "overflow-box": (
        "box: {kind: overflow_box, panel: back, left: 0, width: 90, depth: 90, top: 125, level: 70, "
        "weir: {depth: 25, slot: 6, tooth: 4}}",
        {"holes": "drain: {panel: back, left: 45, bottom: 50, bulkhead: 1/2 in thin}"},
    ),
    "sump-levels": (
        "sump: {SUMP, at: [0, 0, -500], inside: [450, 300, 300], compartments: [{name: a, length: 100, "
        "baffle: {height: 200}}, {name: b, level: 150}]}",
        {},
    ),
    "stands": (
        "bed: {SAND, depth: 30, pitch: 50, region: [0, 0, 200, 400]}\n"
        "mat: {kind: mat, region: [420, 0, 600, 400]}\n"
        "heater: {kind: heater, length: 150, at: [300, 60, 0]}\n"
        + "\n".join(
            f"piece_{number}: {{kind: {kind}, mesh: block.obj, longest: 120, at: [{at}]}}"
            for number, (kind, at) in enumerate(
                [
                    ("rock", "100, 200, 25"),
                    ("rock", "300, 200, 0"),
                    ("wood", "300, 200, 40"),
                    ("wood", "300, 200, 80"),
                    ("rock", "500, 200, 6"),
                    ("rock", "500, 200, 46"),
                    ("rock", "300, 60, 150"),
                ]
            )
        ),
        {},
    ),
    "glass-point-load": (
        "bed: {SAND, depth: 30, pitch: 50}\n"
        "stone: {kind: rock, mesh: block.obj, longest: 300, at: [300, 200, 10]}",
        {},
    ),
    "stand-sag": ("stand: {kind: stand, height: 800, frame: {width: 40, height: 40}}", {}),
    "under-water": ("mist: {kind: mist_maker, at: [300, 200, 0]}", {}),
    "wall-stress": ("", {"tank": "kind: tank, inside: [600, 400, 400], glass: 10, material: acrylic"}),
}
"""The case in which a rule reads a limit that neither its faulty scene nor the clean one makes it read."""


@functools.cache
def clean():
    return build_model(read_scene(Path(__file__).with_name("clean.yaml")))


@pytest.mark.parametrize("rule", RULES)
def test_a_rule_declares_the_limits_that_it_reads_and_no_others(rule, model_of):
    declared = set(rules()[rule].limits)
    _, (own, asked), _ = original(rule)
    if declared - own - asked:
        own = own | limits_read(rule, clean())[0]
    if declared - own - asked:
        parts, more = REACHES_MORE[rule]
        reached = limits_read(rule, model_of(parts, **more))
        own, asked = own | reached[0], asked | reached[1]
    assert own <= declared <= own | asked
    assert len(declared) == len(rules()[rule].limits)


def test_every_limit_is_judged_by_a_rule_told_with_the_figures_or_laid_by():
    declared = {name for rule in rules().values() for name in rule.limits}
    assert not declared & {*TOLD_LIMITS, *LAID_LIMITS}
    assert declared | {*TOLD_LIMITS, *LAID_LIMITS} == set(default().names("limits"))


# -- other units -------------------------------------------------------------------------------------------


def converted(node, units, key=""):
    """Write every bare length of a scene in the other system: figures converted, arithmetic with its unit."""
    if isinstance(node, dict):
        return {
            k: v if k in NOT_LENGTHS and not isinstance(v, dict) else converted(v, units, k)
            for k, v in node.items()
        }
    if isinstance(node, list):
        return [converted(item, units, key) for item in node]
    factor = 1 / 25.4 if units == "mm" else 25.4
    if re.fullmatch(r"-?[\d.]+", node):
        return repr(float(node) * factor)
    if re.fullmatch(r"-?[\d./ ]+", node):
        return f"({node}) * {factor!r}"
    return re.sub(r"(?<![\w.])\d+(\.\d+)?(?! *([a-z°/²³]|%))(?![\w.])", rf"\g<0> {units}", node)


METRIC = re.compile(
    r"(?<![/\d.,])\d[\d.,]* (m|mm|µm|L|mL|L/h|L/h/m|m/s|m²|mm²|m³|m³/s|kg|g|N|Pa|kPa)(?![\w/])"
)
"""A metric figure; a name such as that of a 12/16 mm tube is none."""


ROUND = {"flange-on-bend"}
"""Scenes whose tank is round: its holes stand by an angle, not by a side."""
APART = PLACE_IS_ONE_OF_MANY | GROWN | FACETED | ROUND
"""Scenes in which a mirror says less than other units and another order do: each is tried by itself."""


def otherwise(scene, *, ordered=False):
    """Return a scene in the other units, and its parts in the other order where that tells nothing."""
    other = {**converted(scene, scene["units"]), "units": "in" if scene["units"] == "mm" else "mm"}
    if not ordered:
        other["parts"] = dict(reversed(other["parts"].items()))
    return other


def hold_units(scene, here, there):
    """A scene in inches is told no metric figure, in no message, remedy or note; each has its own style."""
    told = [text for f in (there, here)[scene["units"] == "in"] for text in (f.message, f.remedy, *f.also)]
    assert told
    assert not [text for text in told if METRIC.search(text)]
    for one, another in zip(here, there, strict=True):
        if one.unit == "m":
            assert one.message != another.message


@pytest.mark.parametrize("rule", sorted(APART))
def test_neither_units_nor_the_order_of_parts_matter(rule):
    scene = raw(rule)
    here, there = original(rule)[-1], found(otherwise(scene, ordered=rule in ORDERED))
    assert figures(here) == figures(there)
    assert measures(here) == pytest.approx(measures(there), rel=1e-9, abs=1e-9)
    here, there = (
        sorted(found, key=lambda f: (f.rule, sorted(f.parts), f.measured or 0.0)) for found in (here, there)
    )
    hold_units(scene, here, there)
    for one, another in zip(here, there, strict=True):
        assert one.at == pytest.approx(another.at, abs=1e-9)


# -- mirrored ----------------------------------------------------------------------------------------------


def mirrored(node, length):
    """Return a scene's node with left and right changed over."""
    if isinstance(node, dict):
        done = {}
        if (
            node.get("kind") == "sump" and "at" in node
        ):  # it is placed by its left corner, in a stand as wide as the tank's outside
            room = float(length) + 2 * 10 - 2 * 36 - float(node["inside"][0]) - 2 * 8
            left = repr(room - float(node["at"]["left"]))
            rest = {key: value for key, value in node.items() if key != "at"}
            return {"flow": "right_to_left", **mirrored(rest, length), "at": {**node["at"], "left": left}}
        for key, value in node.items():
            if key in ("start", "at", "reach") and isinstance(value, list) and len(value) == 3:
                done[key] = [f"{length} - ({value[0]})", *value[1:]]
            elif key == "offset":
                done[key] = [f"-({value[0]})", *value[1:]]
            else:
                done[SWAPPED.get(key, key)] = mirrored(value, length)
        return done
    if isinstance(node, list):
        return [mirrored(item, length) for item in node]
    return SWAPPED.get(node, node)


def mirror(rule, folder):
    """Return a rule's scene with left and right changed over, and its width; its meshes go into a folder."""
    scene = raw(rule)
    names = {name: f"{name}_" for name in scene.get("values", {})}
    scene = as_texts(rename(as_text(scene), names))
    length = scene["parts"]["tank"]["inside"][0]
    for mesh in FAULTY.glob("*.obj"):
        lines = mesh.read_text(encoding="utf-8").splitlines()
        (folder / mesh.name).write_text("\n".join(map(mirrored_line, lines)), encoding="utf-8")
    return mirrored(scene, length), float(length) * (0.0254 if scene["units"] == "in" else 0.001)


@pytest.mark.parametrize("rule", sorted(APART - ROUND))
def test_a_mirrored_scene_has_mirrored_findings(rule, tmp_path):
    scene, width = mirror(rule, tmp_path)
    here, there = original(rule)[-1], found(scene, tmp_path)
    assert [(f.rule, f.severity) for f in here] == [(f.rule, f.severity) for f in there]
    if rule in GROWN:
        return
    slack = {"rel": 1e-3} if rule in FACETED else {"abs": 1e-8}
    assert measures(here) == pytest.approx(measures(there), **slack)
    for one, other in zip(here, there, strict=True):
        x, y, z = one.at
        if rule not in PLACE_IS_ONE_OF_MANY:
            assert other.at == pytest.approx((width - x, y, z), abs=1e-4)


@pytest.mark.parametrize("rule", sorted(set(RULES) - APART))
def test_mirrored_in_other_units_and_order_a_scene_has_mirrored_findings(rule, tmp_path):
    """All three at once, for none of them may matter, nor two together."""
    scene, width = mirror(rule, tmp_path)
    here, there = original(rule)[-1], found(otherwise(scene), tmp_path)

    def sides(name):
        return ".".join(SWAPPED.get(piece, piece) for piece in name.split("."))

    here = sorted(here, key=lambda f: (f.rule, sorted(map(sides, f.parts)), f.measured or 0.0))
    there = sorted(there, key=lambda f: (f.rule, sorted(f.parts), f.measured or 0.0))
    assert [(f.rule, f.severity) for f in here] == [(f.rule, f.severity) for f in there]
    hold_units(scene, here, there)
    for one, other in zip(here, there, strict=True):
        assert (one.measured, one.limit) == pytest.approx((other.measured, other.limit), abs=1e-8)
        x, y, z = one.at
        assert other.at == pytest.approx((width - x, y, z), abs=1e-6)


def rename(text, names):
    """Give named values names of their own, so that one called 'left' is not taken for the side."""
    for name, new in names.items():
        text = re.sub(
            rf"(?<![\w.])(left: )?{name}(?![\w.])(?!:)", lambda m, new=new: (m[1] or "") + new, text
        )
        text = re.sub(rf"(?m)^  {name}:", f"  {new}:", text)
    return text


def mirrored_line(line):
    kind, *numbers = line.split() or [""]
    if kind == "v":
        return f"v {-float(numbers[0])!r} {numbers[1]} {numbers[2]}"
    return f"f {' '.join(reversed(numbers))}" if kind == "f" else line


# -- accepted ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", RULES)
def test_an_accepted_finding_is_a_note_with_the_reason(rule, monkeypatch):
    """What the rule found stands in for its looking again: the scene's word for it is what changes."""
    model, _, findings = original(rule)
    (fault,) = [f for f in findings if f.severity == "fault"]
    monkeypatch.setitem(rules(), rule, replace(rules()[rule], find=lambda _: iter([fault])))
    entry = {"rule": rule, "parts": list(fault.parts), "why": "looked at on site"}
    (note,) = examine(accepting(model, rule, entry), only=(rule,))
    assert (note.rule, note.parts, note.severity) == (rule, fault.parts, "note")
    assert note.message == f"{fault.message}; accepted in the scene: looked at on site"
    assert (note.measured, note.at) == (fault.measured, fault.at)
    other = next(name for name in rules() if name != rule)
    assert examine(accepting(model, rule, {**entry, "rule": other}), only=(rule,)) == (fault,)


def accepting(model, rule, entry):
    """Return a model whose scene accepts a finding, read from the scene's text."""
    text = as_text({**raw(rule), "accept": [entry]})
    return replace(model, scene=read_scene(FAULTY / "made.yaml", text=text))


# -- what a fault tells ------------------------------------------------------------------------------------

KINDS = {"m": "length", "m³": "volume", "m³/s": "flow", "m/s": "speed", "rad": "angle", "N": "force"}
WITHOUT_MISS = {"stands"}
"""Rules whose scene shows what fails outright, so that it misses by no figure."""
BESIDE = {
    "hole-under-brace": 0.011,  # the hole's middle, in a brace 10 mm beside it
    "overflow-level": 0.005,  # the running level, over the drain's intake
    "sump-rim": 0.070,  # the middle of the compartment at its rim, beside the baffle
}
"""Rules whose place is none in a part that they name, and how far from it that is in their scene, [m]."""


def own_faults(rule):
    model, _, findings = original(rule)
    return model, [fault for fault in findings if fault.rule == rule and fault.severity == "fault"]


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule not in WITHOUT_MISS])
def test_a_fault_tells_by_how_much_it_misses(rule):
    """The difference of what is measured and its limit stands in the message or the remedy."""
    model, faults = own_faults(rule)
    for fault in faults:
        if fault.measured is None or fault.limit is None or fault.unit not in KINDS:
            continue
        miss, kind = abs(fault.measured - fault.limit), KINDS[fault.unit]
        with shown_in(model.scene.style):
            shown = {show(miss, kind), *(show(miss, kind, digits=digits) for digits in (1, 2, 3))}
        told = f"{fault.message} {fault.remedy}"
        assert any(text in told for text in shown), told


@pytest.mark.parametrize("rule", RULES)
def test_a_fault_lies_where_its_parts_are(rule):
    """In the box round the parts that it names, to a millimetre."""
    model, faults = own_faults(rule)
    for fault in faults:
        bodies = [body for name in fault.parts for body in model.bodies_of(name)]
        if fault.at is None or not bodies:
            continue
        low = np.min([body.solid.bounds[0] for body in bodies], axis=0)
        high = np.max([body.solid.bounds[1] for body in bodies], axis=0)
        away = np.maximum(np.maximum(low - fault.at, np.asarray(fault.at) - high), 0.0)
        assert np.linalg.norm(away) <= BESIDE.get(rule, 0.001), (fault.at, low, high, fault.parts)

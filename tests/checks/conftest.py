"""Small scenes for the rules: those of scenes/faulty with other values, and tanks written in a line."""

import functools
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from plain_scenes import build_text

from layout3d.checks import examine as examining
from layout3d.checks.base import Finding, rules
from layout3d.checks.examine import examine
from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).resolve().parents[2] / "scenes" / "faulty"
MADE = FAULTY / "made.yaml"  # beside the meshes
SHORT = {
    "BOX": "kind: tank, inside: [600, 400, 400], glass: 10",
    "DIAMOND": "kind: tank, footprint: [[300, 0], [600, 300], [300, 600], [0, 300]], height: 400, glass: 10",
    "FERN": "kind: plant, height: 100, spread: 150, detail: 0.5, root: false",
    "PIPE": "kind: run, pipe: d20 pn 16",
    "PUMP": "kind: pump, model: small 600",
    "SAND": "kind: substrate",
    "SUMP": "kind: sump",
    "TUBE": "kind: run, tube: 12/16 mm",
}
"""What stands for the head of a part in a scene written in a line."""


def build(
    parts: str,
    *,
    tank: str = "BOX",
    holes: str = "",
    waterline: object = 100,
    units: str = "mm",
    more: str = "",
) -> Model:
    """Build a scene of a tank and parts, given as lines of YAML without indentation."""
    lines = "".join(f"  {line}\n" for line in parts.strip().splitlines())
    drilled = f", holes: {{{holes}}}" if holes else ""
    head = f"format: 1\nunits: {units}\nwaterline: {waterline}\nparts:\n"
    text = f"{head}  tank: {{{tank}{drilled}}}\n{lines}{more}"
    text = re.sub(r"\b(" + "|".join(SHORT) + r")\b", lambda match: SHORT[match[0]], text)
    return build_text(text, MADE)


def found_by(rule: str, model: Model) -> tuple[Finding, ...]:
    """Run one rule, with what stands in for what it asks; every finding of it bears its name."""
    model.known.pop((examining.found_by, rule), None)
    findings = examine(model, only=(rule,))
    assert all(finding.rule == rule for finding in findings)
    return findings


@functools.cache
def faulty_model(name: str, values: tuple[tuple[str, str], ...]) -> Model:
    return build_model(read_scene(FAULTY / f"{name}.yaml", overrides=dict(values)))


@pytest.fixture(scope="session")
def model_of() -> Callable[..., Model]:
    """Build a model from parts, a tank and holes."""
    return build


@pytest.fixture(scope="session")
def check() -> Callable[..., tuple[Finding, ...]]:
    """Run one rule over a scene made of parts."""

    def run(rule: str, parts: str = "", **given: object) -> tuple[Finding, ...]:
        return found_by(rule, build(parts, **given))

    return run


@pytest.fixture(scope="session")
def faulty() -> Callable[..., tuple[Finding, ...]]:
    """Run a rule over its own faulty scene, with named values set anew."""

    def run(rule: str, **values: object) -> tuple[Finding, ...]:
        return found_by(rule, faulty_model(rule, tuple((k, str(v)) for k, v in values.items())))

    return run


@pytest.fixture(scope="session")
def faulty_text() -> Callable[..., tuple[Finding, ...]]:
    """Run a rule over a faulty scene, its own or another, with pieces of its text in place of others."""

    def run(rule: str, *pieces: tuple[str, str], scene: str = "") -> tuple[Finding, ...]:
        name = scene or rule
        text = (FAULTY / f"{name}.yaml").read_text(encoding="utf-8")
        for old, new in pieces:
            assert old in text, f"{name}.yaml holds no {old!r}"
            text = text.replace(old, new)
        return found_by(rule, build_text(text, MADE))

    return run


@pytest.fixture(scope="session")
def severities() -> Callable[..., list[tuple[str, float]]]:
    """Return (severity, measured) of findings, for comparing with a list."""
    return lambda findings: [(finding.severity, finding.measured) for finding in findings]


@pytest.fixture(scope="session")
def all_rules() -> tuple[str, ...]:
    return tuple(rules())

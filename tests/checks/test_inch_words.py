"""A scene in inches is spoken to in inches: no message writes a metric unit of its own."""

import ast
import re
from itertools import pairwise
from pathlib import Path

import layout3d

PACKAGE = Path(layout3d.__file__).parent
BEHIND_A_FIGURE = re.compile(r"\A (m|mm|µm|L|mL|L/h|m/s|m²|m³|m³/s|kg|g|N|Pa|kPa)(?![\w/])")
OWN_UNIT = {  # why a unit of its own is right there
    "catalog/names.py": "the name of a tube",
    "catalog/shipped.py": "the name of a tube",
    "draw/": "sheets and plots are drawn in a unit of their own",
    "fittings/supports.py": "a fault of the program",
    "parts/forms": "put into the scene's units by parts/shapes/natural.py",
    "parts/run/supports.py": "a fault of the program",
    "report/": "pages and files in a unit of their own, or in both systems side by side",
    "shop/": "files in a unit of their own",
    "solid/primitives.py": "a fault of the program",
    "swim/field.py": "a fault of the program",
}


def test_no_message_writes_a_metric_unit_behind_a_figure():
    """Figures in messages are told by ``units.show``, which knows the scene's units."""
    found = []
    for file in PACKAGE.rglob("*.py"):
        name = file.relative_to(PACKAGE).as_posix()
        if any(name.startswith(known) for known in OWN_UNIT):
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            for figure, after in pairwise(node.values) if isinstance(node, ast.JoinedStr) else ():
                behind = str(after.value) if isinstance(after, ast.Constant) else ""
                if isinstance(figure, ast.FormattedValue) and BEHIND_A_FIGURE.match(behind):
                    found.append(f"{name}:{node.lineno} {behind!r}")
    assert found == []

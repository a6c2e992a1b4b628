"""What tests and the examples in the package have in common."""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent / "layout3d"


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    """Look for examples in those modules of the package alone that have any: no other need be imported."""
    if PACKAGE in collection_path.parents and collection_path.suffix == ".py":
        return ">>>" not in collection_path.read_text(encoding="utf-8") or None
    return None

"""The WebGL library of the page: read from the package that it is installed with, and put into each page.

No copy of it stands in this project, and no page asks a server for it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from layout3d.errors import LayoutError

__all__ = ["DISTRIBUTION", "webgl_library"]

DISTRIBUTION = "jupyter-threejs-sage"
"""The package that carries it; of its builds the newest is taken that stands in ``BUILD``."""
BUILD = "jupyter_threejs_sage/static/r130/three.min.js"
EXTRA = "report"


@cache
def webgl_library() -> tuple[str, str]:
    """Return the installed library's code, one script, and the text of its licence.

    Raises
    ------
    LayoutError : the package isn't installed, or isn't whole.
    """
    from importlib.metadata import PackageNotFoundError, distribution

    try:
        found = distribution(DISTRIBUTION)
        code = Path(str(found.locate_file(BUILD))).read_text(encoding="utf-8")
        licences = [file for file in found.files or () if file.name == "LICENSE"]
        licence = licences[0].read_text(encoding="utf-8")
    except (PackageNotFoundError, OSError, IndexError) as fault:
        raise LayoutError(
            f"the package {DISTRIBUTION} is missing, which has the library that turns the model in the page",
            remedy=f"install layout3d with its extra {EXTRA!r}: pip install 'layout3d[{EXTRA}]'",
        ) from fault
    # whatever stands in it, it ends with the page's script and no sooner
    return code.replace("</script", "<\\/script"), licence.strip()

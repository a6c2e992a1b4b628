import subprocess
import sys

MODULES = (
    "flow.solve flow.sizing flow.weir flow.drain flow.air fittings.losses "
    "outage.failures outage.fill_line outage.evaporation"
)


def test_heavy_libraries_wait_until_they_are_used():
    """A fresh process, as `check` starts one: nothing heavy is loaded by importing the hydraulics."""
    code = (
        "import importlib, sys\n"
        f"[importlib.import_module('layout3d.' + name) for name in '{MODULES}'.split()]\n"
        "print([name for name in ('scipy', 'fluids', 'networkx', 'pint', 'pyvista') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

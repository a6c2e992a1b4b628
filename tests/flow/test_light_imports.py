import subprocess
import sys

MODULES = "steady bar_design weir drain drain_back outage fill_line evaporation air losses"


def test_heavy_libraries_wait_until_they_are_used():
    """A fresh process, as `check` starts one: nothing heavy is loaded by importing the hydraulics."""
    code = (
        "import importlib, sys\n"
        f"[importlib.import_module('layout3d.flow.' + name) for name in '{MODULES}'.split()]\n"
        "print([name for name in ('scipy', 'fluids', 'networkx', 'pint', 'pyvista') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

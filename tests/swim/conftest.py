"""Room to swim on the grid that a check measures it on; the other tests have a coarse one."""

import pytest

from layout3d.swim import room

CELLS = room.CELLS


@pytest.fixture(autouse=True)
def fine_water(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "CELLS", CELLS)

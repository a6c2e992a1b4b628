"""The return chamber as it runs down: the wall may stop dripping days before a pump draws air."""

from layout3d.flow.running import dripping
from layout3d.outage.outages import outages

BAR = "{front: 80 mm}, {right: 500 mm, drip: {diameter: 3 mm, pitch: 40 mm, margin: 40 mm}}, cap"


def test_a_strong_pump_draws_air_first(sump_scene):
    found = outages(sump_scene(feed=BAR))
    assert found.run_down.first == ""
    assert found.mark.line.lowest_event == "evaporation until pump draws air"


def test_holes_stop_first_where_the_pump_hardly_lifts_to_them(sump_scene):
    """Just above the level all holes run, just below it one has stopped; that sets the mark's low end."""
    speed = next(
        share
        for share in range(90, 30, -1)
        if sum(dripping(sump_scene(feed=BAR, speed=f"{share} %"), {}).values())
        and not sum(dripping(sump_scene(feed=BAR, speed=f"{share} %"), {"sump.chamber": -0.634}).values())
    )
    model = sump_scene(feed=BAR, speed=f"{speed} %")
    found = outages(model)
    down, mark = found.run_down, found.mark
    assert down.first.startswith("drip holes of feed.")
    assert down.first_days.likely < down.days.likely
    assert mark.line.lowest_event == f"evaporation until {down.first}"
    loss = down.loss.likely * 86400 * down.first_days.likely / 997.3
    chamber = found.circuit.sump.chamber
    fails = chamber.level(chamber.volume(found.circuit.chamber_level) - loss)
    whole = sum(dripping(model, {}).values())
    assert sum(dripping(model, {"sump.chamber": fails + 2e-3}).values()) == whole
    assert sum(dripping(model, {"sump.chamber": fails - 2e-3}).values()) < whole

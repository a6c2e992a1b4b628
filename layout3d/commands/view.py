"""``layout3d view``: the scene in a window, to be turned, cut open and gone through."""

from __future__ import annotations

from layout3d.commands.scene import NoFaults, SceneFile, Settings, model_of, refusals_told

__all__ = ["view"]


def view(scene: SceneFile, settings: Settings = None, no_faults: NoFaults = False) -> None:
    """Open a window on a scene.

    Turn it, hide groups, cut it open, and step through the findings, by the keys that it lists. Needs a
    screen; `layout3d picture` does without.
    """
    with refusals_told():
        from layout3d.checks.examine import examine
        from layout3d.draw.window import open_window, refuse_without_display

        refuse_without_display()  # before the scene is built, which may take a while
        model = model_of(scene, settings)
        open_window(model, None if no_faults else examine(model))

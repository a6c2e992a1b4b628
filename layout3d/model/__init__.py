"""A scene built into placed solids, ports and joins."""

"""Sequences of pictures: build steps, exploded view, turntable, cut, flight, water; as PNG and as video."""

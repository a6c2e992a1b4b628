"""Fittings of pipe and tube: sizes, shapes, ports and losses."""

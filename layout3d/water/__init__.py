"""Volumes by waterline, displacement, mass."""

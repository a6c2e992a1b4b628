"""Positions and values tried by the hundred: search by stated wishes, and sweeps."""

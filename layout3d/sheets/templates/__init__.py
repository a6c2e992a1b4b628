"""Templates at 1:1: drilled panels, drip-hole strips, backgrounds, baffles; on paper and as DXF."""

"""A 3D layout of a drilled display tank that computes: fit, water, flow and pictures from one scene file."""

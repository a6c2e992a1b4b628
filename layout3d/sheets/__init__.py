"""Dimensioned sheets and 1:1 templates, as SVG, PDF and DXF from one drawing model."""

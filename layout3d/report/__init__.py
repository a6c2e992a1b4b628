"""Findings and figures as text and JSON."""

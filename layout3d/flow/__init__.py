"""Hydraulics: pipes, pumps, drip bars, overflow, outage."""

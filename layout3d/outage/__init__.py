"""What happens to the water when something fails: power, drain, pump, hose, or just time."""

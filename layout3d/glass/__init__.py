"""Glass under water: what bends a pane, and how much it bears."""

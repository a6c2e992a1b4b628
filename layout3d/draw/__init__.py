"""Pictures and the window; the only folder that draws."""

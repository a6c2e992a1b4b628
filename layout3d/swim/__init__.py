"""Room to swim: how far each place in the water is from what bounds it, and where a fish gets."""

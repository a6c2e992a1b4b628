"""Seeded natural forms as plain arrays: rock, driftwood, plants, background relief, sculpted beds."""

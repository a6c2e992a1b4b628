"""The part kinds: one file a kind, fields and shape together."""

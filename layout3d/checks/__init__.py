"""The rules: one file a rule."""

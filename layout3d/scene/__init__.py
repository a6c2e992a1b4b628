"""The scene file: reading, named values, arithmetic, schema."""

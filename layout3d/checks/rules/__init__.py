"""The rules, those of one subject in a file; the registry finds them."""

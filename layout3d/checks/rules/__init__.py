"""The rules, one a file; the registry finds them."""

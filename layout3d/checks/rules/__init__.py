"""The rules, one file each; the registry finds them."""

"""The geometry kernel: closed solids, booleans, distances, volume below a level. Knows no parts."""

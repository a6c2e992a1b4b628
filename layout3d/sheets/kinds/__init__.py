"""The kinds of sheets, one file each."""

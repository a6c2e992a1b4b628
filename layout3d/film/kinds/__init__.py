"""The kinds of sequences, one file each."""

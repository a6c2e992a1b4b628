"""The pipework of a model as one graph; the only reader of runs."""

"""Lots of seed: tests, storage, labels, stock and sales."""

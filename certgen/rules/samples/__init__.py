"""Samples and what they say of each tree."""

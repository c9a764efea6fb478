"""Bags: what was covered, how, and what became of it."""

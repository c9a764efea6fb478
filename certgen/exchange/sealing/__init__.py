"""Seals and signatures on a packet, and whether it still bears out what it says."""

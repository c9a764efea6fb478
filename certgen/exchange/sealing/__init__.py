"""Seals and signatures on a packet, and whether it still bears out what it says.

A seal is a block of PDF comments before the last `startxref`: no offset moves, and its digest covers every
other byte, which one inside an object couldn't. A signature by certificate (PAdES) may follow.
"""

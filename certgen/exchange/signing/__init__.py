"""The signature on a packet: a PDF signature (PAdES) by a certificate, put behind the packet's own bytes."""

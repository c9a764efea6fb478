"""The chapter of the lots: an overview, and a dossier for each lot, a stretch of it a module."""

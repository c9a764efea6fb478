"""The chapter of what is computed beyond the records, a section a module; `chapter` puts them in order."""

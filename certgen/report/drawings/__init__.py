"""Pictures as pure functions: a plain dataclass in, SVG text out, its words in <title> and <desc>."""

"""From a `Result` to the packet's finished text: one module a part of the packet."""

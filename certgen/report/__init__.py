"""The packet an inspector reads: view models, drawings, and the writers of PDF and HTML.

`build_packet` turns a `Result` into display-ready text, `set_pdf` and `set_html` set it.

Whatever decides a packet's bytes is in its manifest, or nobody can make it anew: a choice in `PacketOptions`,
a library that sets pages in `certgen/typeset/engines.py`. The binder's scripts stand in `templates/binder/`.
"""

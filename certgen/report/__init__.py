"""The packet an inspector reads: view models, drawings, and the writers of PDF and HTML.

`build_packet` turns a `Result` into display-ready text, `set_pdf` and `set_html` set it.
"""

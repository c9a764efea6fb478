"""From a `Result` to the packet's finished text: one module a part of the packet.

A table declares its columns once, head and cell together: `Column("Rinses", "number", lambda run:
run.rinses)`. A link to a paper is `Run(text, context.paper(path))`; a `Run(…, page=True)` on the cover
prints the page of its anchor. A cover comes in several lengths, and the longest that fits one page is set.
How a table is told in its register is a line in `register_plans.py`.
"""

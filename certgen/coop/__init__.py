"""A co-op: many members' seasons, each examined on its own, then compared with one another.

The way: `members/` reads the list of members and reduces each member's season to a summary, which is kept on
disk; `between/` holds the summaries against one another and gives one result; `papers/` writes that result as
a report, letters, JSON and CSV. `examination.py` joins the first two: `examine_coop` is the one way in.
`skeleton.py` lays a new co-op's folder out.
"""

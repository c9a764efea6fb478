"""The desk: a season's records in the browser of the machine they lie on.

One season is held in memory and examined anew whenever its folder changes, by the same code as every
command. Whatever is typed is tried by the reader of records before it is written, and goes into the season's
own files by the splices that an import uses and through the history that every writer keeps (`saving`). The
server listens on this machine, asks for the token in the address it printed, and serves nothing outside the
season (`access`); where it is asked for, phones in the farm's network come in by a code (`devices`).

Two people may type at once, and an editor may write meanwhile: a form says what it was made from, a change
that touches something else is joined with it, and one that touches the same is shown beside the other
(`saving`).

A page is this machine's alone until `access` names it for phones. A paper of the Print page is a
`PrintKind` in `print_kinds`, a case in `print_composing` and a row in the test that holds it to the
command's bytes. All that writes a season's files writes by `write_change`
(`certgen/exchange/editing/history.py`). A finding's way to an entry is a line in `_SUPPLIES` of
`findings_pages`.
"""

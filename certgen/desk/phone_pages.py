"""Phones: the code of the next device and those that are in, for this machine's browser; and where a bag's
tag leads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from certgen.desk.answering import RefusedError, address, go_to, hand
from certgen.desk.devices import ASKING, MOST, Devices, write_code
from certgen.typeset.html_pages import our_own
from certgen.typeset.svg import qr_code

if TYPE_CHECKING:
    from starlette.responses import Response

    from certgen.desk.answering import Ask, Desk
    from certgen.desk.held_season import Snapshot


def show_phones(desk: Desk, ask: Ask) -> Response:
    """The addresses to open, the code to type, and who is in."""
    devices = _find_devices(desk)
    return desk.show(
        "phones",
        desk.held.look(),
        page="phones",
        addresses=[(one, our_own(qr_code(one))) for one in devices.addresses],
        port=urlsplit(devices.addresses[0]).port if devices.addresses else "",
        code=write_code(devices.code),
        devices=devices.list_all(),
        wrong=devices.list_wrong(),
        most=MOST,
        revision=devices.revision,
        said=ask.query,
    )


def send_phones(desk: Desk, ask: Ask) -> Response:
    """Sends a device away, or lets more in or none."""
    devices = _find_devices(desk)
    step, number = ask.form.get("do", ""), ask.form.get("device", "")
    if step == "send away" and number.isascii() and number.isdigit() and len(number) < 9:
        devices.send_away(int(number))
    elif step == "new code":
        devices.open()
    elif step == "no more":
        devices.close()
    else:
        raise RefusedError("That is none of what can be done about devices.", 400)
    return go_to(address("phones"))


def tell_state(desk: Desk, ask: Ask) -> Response:  # noqa: ARG001 (every page is asked the same way)
    """What changes when the page is to be shown anew."""
    return hand({"revision": _find_devices(desk).revision})


def _find_devices(desk: Desk) -> Devices:
    """The devices, for this machine's browser. Raises `RefusedError` for others, and without `--phones`."""
    if ASKING.get() is not None:
        raise RefusedError("Devices are let in and sent away at the desk's computer only.", 403)
    if desk.devices is None:
        raise RefusedError(
            "This desk lets no phone in. Close it (Ctrl+C) and open it anew with --phones to do so."
        )
    return desk.devices


def go_to_bag(desk: Desk, ask: Ask) -> Response:
    """Where a tag's code leads: to the bag's page, or to the entry of a bag that isn't on record yet.

    A tag that says its tree only leads to the tree's bags, if it has any: which of them the tag hangs at
    stands on it, written by hand.
    """
    snapshot = desk.held.look()
    bag, tree = ask.query.get("bag", "").strip(), ask.query.get("tree", "").strip()
    if bag and (record := snapshot.season.record("bagging", bag)) is not None:
        if tree and str(record.get("tree", "")) != tree:
            return _show_bags(desk, snapshot, bag, tree, 409)
        return go_to(address("record", "bagging", bag))
    if not bag and tree and _list_bags(snapshot, tree):
        return _show_bags(desk, snapshot, bag, tree)
    told = {name: value for name, value in (("bag", bag), ("tree", tree)) if value}
    return go_to(address("enter", "bag-on", **told))


def _list_bags(snapshot: Snapshot, tree: str) -> list[dict[str, Any]]:
    """The tree's bags, the last one first, each as it is recorded."""
    frame = snapshot.season.tables["bagging"]
    names = [str(name) for name in frame.loc[frame["tree"] == tree, "bag"].tolist()]
    return [dict(snapshot.season.record("bagging", name) or {}) for name in reversed(names)]


def _show_bags(desk: Desk, snapshot: Snapshot, bag: str, tree: str, status: int = 200) -> Response:
    there = snapshot.season.record("bagging", bag) or {} if bag else {}
    return desk.show(
        "bags",
        snapshot,
        status=status,
        page="enter",
        bag=bag,
        tree=tree,
        other=str(there.get("tree", "")),
        bags=_list_bags(snapshot, tree),
    )

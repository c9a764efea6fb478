"""Phones: how a device of the farm's network is let in, what it may do then, and where a bag's tag leads."""

from __future__ import annotations

import http.client
import re
import socket
from contextlib import ExitStack
from threading import Thread

import pytest
from desk_client import (
    FARM,
    FARM_ORIGIN,
    ORIGIN,
    PORT,
    TOKEN,
    come_by_network,
    form_of,
    open_to_phones,
    said,
)
from starlette.testclient import TestClient
from waiting import wait_until

from certgen.desk.access import may_ask
from certgen.desk.devices import Devices, write_code
from certgen.desk.server import open_desk
from certgen.exchange.editing.history import read_history

COVERS = ("certgen.desk.letting_in", "certgen.desk.phone_pages")


@pytest.fixture
def devices():
    """Nobody in yet."""
    return Devices([FARM_ORIGIN])


@pytest.fixture
def app(held, devices):
    """The desk, open to the farm's network."""
    return open_to_phones(held, devices)


@pytest.fixture
def stranger(app):
    """A device that wasn't let in."""
    return come_by_network(app)


@pytest.fixture
def phone(app, devices):
    """A device that was."""
    client = come_by_network(app)
    client.post("/let-in", data={"code": devices.code, "name": "Ana", "to": "/"})
    return client


@pytest.fixture
def owner(app):
    """The browser of the machine itself."""
    client = TestClient(app, base_url=ORIGIN, headers={"origin": ORIGIN})
    client.get(f"/?token={TOKEN}")
    return client


def test_a_tag_leads_a_new_phone_by_the_code_to_its_bag(stranger, devices):
    """Whatever was asked for stands there after the code; the cookie is no script's and no other site's."""
    page = stranger.get("/bag?bag=B-1").text
    form = form_of(page, "/let-in")
    answer = stranger.post(
        "/let-in", data={**form, "code": write_code(devices.code), "name": "Ana"}, follow_redirects=False
    )

    assert "unencrypted" in said(page)
    assert (303, "/bag?bag=B-1") == (answer.status_code, answer.headers["location"])
    assert {"httponly", "samesite=strict", "path=/"} <= set(answer.headers["set-cookie"].lower().split("; "))
    assert "Bag B-1" in said(stranger.get("/bag?bag=B-1").text)


@pytest.mark.parametrize(
    "path", ["/", "/today", "/version", "/style.css", "/desk.js", "/record/bagging/B-1", "/phones",
             "/nowhere", f"/today?token={TOKEN}", "//evil.example/", "/let-in"]
)  # fmt: skip
def test_a_stranger_sees_the_code_s_page_and_nothing_else(stranger, path):
    """Not whose season it is, nor what pages there are; the token of this machine opens nothing here."""
    answer = stranger.get(path, follow_redirects=False)

    assert (403, "no-store") == (answer.status_code, answer.headers["cache-control"])
    assert "Larkfold" not in answer.text
    assert "set-cookie" not in answer.headers
    assert "Code for this device" in answer.text


def test_a_stranger_changes_nothing(stranger, folder):
    """It is told, and what it typed is still there when it goes back."""
    before = (folder / "bags.yaml").read_bytes()

    answer = stranger.post("/enter/bag-on", data={"bag": "B-3", "tree": "01"})

    assert "Nothing was saved" in said(answer.text)
    assert "B-3" not in answer.text
    assert before == (folder / "bags.yaml").read_bytes()


@pytest.mark.parametrize(
    "host",
    [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"evil.example:{PORT}", FARM, f"{FARM}:80", f"{FARM}.:{PORT}",
     f"192.168.1.21:{PORT}", f"[::1]:{PORT}", f"[::ffff:{FARM}]:{PORT}", f"{FARM}:{PORT}@evil.example",
     f"{FARM}:0{PORT}", ""],
)  # fmt: skip
def test_no_other_name_is_answered_to_in_the_network(phone, host):
    """Neither this machine's own ones, nor a name that a page gave it (DNS rebinding)."""
    assert 421 == phone.get("/today", headers={"host": host}).status_code


def test_the_network_s_name_is_none_of_this_machine_s_own(owner):
    """Each address answers to its own name only."""
    assert 421 == owner.get("/today", headers={"host": f"{FARM}:{PORT}"}).status_code


@pytest.mark.parametrize("origin", ["null", ORIGIN, "http://evil.example", f"https://{FARM}:{PORT}", ""])
def test_no_other_page_sends_a_phone_s_forms(phone, stranger, devices, folder, origin):
    """Not a change, and not a code either: who guesses must come by the page."""
    before = (folder / "bags.yaml").read_bytes()

    assert 403 == phone.post("/enter/bag-on", data={"bag": "B-3"}, headers={"origin": origin}).status_code
    answer = stranger.post("/let-in", data={"code": devices.code}, headers={"origin": origin})
    assert 403 == answer.status_code
    assert "set-cookie" not in answer.headers
    assert before == (folder / "bags.yaml").read_bytes()


def test_a_phone_sees_and_enters(phone, held):
    """What a person in the rows does; the parts that are this machine's own aren't offered."""
    page = phone.get("/today").text
    phone.post("/enter/bag-on", data={"bag": "B-3", "tree": "01", "covered": "2026-02-01"})

    assert "/enter" in page
    assert 'href="/phones"' not in page
    assert 'href="/print"' not in page
    assert "B-3" in held.look().season.tables["bagging"]["bag"].tolist()


def test_an_entry_begins_with_whoever_holds_the_phone(app, phone, owner, devices, held):
    """Never with who entered last; the history says by which device a change came."""
    owner.post(
        "/enter/bag-on", data={"bag": "B-3", "tree": "01", "covered": "2026-02-01", "recorded_by": "KV"}
    )
    nameless = come_by_network(app, "192.168.1.32")
    nameless.post("/let-in", data={"code": devices.code, "to": "/"})
    fields = [
        form_of(client.get("/enter/bag-on").text, "/enter/bag-on")["recorded_by"]
        for client in (owner, phone, nameless)
    ]
    phone.post("/enter/bag-on", data={"bag": "B-4", "tree": "01", "covered": "2026-02-02"})

    assert ["KV", "Ana", ""] == fields
    assert ["certgen desk", "certgen desk, Ana at 192.168.1.31"] == [
        change.command for change in reversed(read_history(held.folder).changes)
    ]


@pytest.mark.parametrize(("method", "path"), [
    ("GET", "/phones"), ("GET", "/phones/state"), ("GET", "/print"), ("GET", "/print/report.pdf"),
    ("GET", "//phones"), ("GET", "/new-page-of-tomorrow"), ("GET", "phones"), ("GET", ""),
    ("POST", "/phones"), ("POST", "/print"), ("POST", "/history"), ("POST", "/history/1/undo"), ("POST", "/"),
    ("POST", "/undo"), ("POST", "/version"), ("PUT", "/record/bagging/B-1"), ("DELETE", "/paper/a.txt"),
    ("TRACE", "/today"), ("OPTIONS", "/today"), ("PATCH", "/enter/bag-on"), ("CONNECT", "/today"),
    ("get", "/today"),
])  # fmt: skip
def test_what_is_left_to_the_machine(method, path):
    """Devices, printing, undoing; and any page that nobody has named here."""
    assert not may_ask(method, path)


def test_a_phone_neither_lets_in_nor_sends_away(phone, devices):
    """It says where that is done."""
    answer = phone.post("/phones", data={"do": "send away", "device": "1"})

    assert 403 == answer.status_code
    assert "at the desk's computer" in answer.text
    assert devices.code not in phone.get("/phones").text
    assert 1 == len(devices.list_all())


def test_the_machine_shows_the_code_and_sends_a_device_away(owner, phone, devices):
    """At once."""
    page = owner.get("/phones").text

    assert write_code(devices.code) in said(page)
    assert FARM_ORIGIN in said(page)
    assert "Ana at 192.168.1.31" in said(page)
    assert "unencrypted" in said(page)
    owner.post("/phones", data={"do": "send away", "device": "1"})
    assert "Code for this device" in phone.get("/today").text
    assert "No device" in said(owner.get("/phones").text)


def test_the_machine_lets_no_more_in_and_in_again(owner, stranger, devices):
    """Whoever is in stays."""
    owner.post("/phones", data={"do": "no more"})
    closed = owner.get("/phones").text
    refused = stranger.post("/let-in", data={"code": "", "to": "/"})
    owner.post("/phones", data={"do": "new code"})

    assert "No more devices are let in" in said(closed)
    assert "lets no more devices in" in said(refused.text)
    assert 8 == len(devices.code)


@pytest.mark.parametrize(
    "form", [{"do": ""}, {"do": "send away", "device": "x"}, {"do": "send away", "device": "²"},
             {"do": "send away", "device": "9" * 5000}, {}]
)  # fmt: skip
def test_what_can_t_be_done_about_devices_is_refused(owner, form):
    """In words."""
    assert 400 == owner.post("/phones", data=form).status_code


def test_a_phone_s_cookie_is_worth_nothing_elsewhere(app, phone):
    """At another device's address, at this machine's own, and this machine's token at the network's."""
    word = next(iter(phone.cookies.values()))
    name = f"certgen-desk-{PORT}"
    thief = come_by_network(app, "192.168.1.66")
    thief.cookies.set(name, word)
    here = TestClient(app, base_url=ORIGIN, cookies={name: word})
    forged = come_by_network(app)
    forged.cookies.set(name, TOKEN)

    assert "Code for this device" in thief.get("/today").text
    assert 403 == here.get("/today").status_code
    assert "Code for this device" in forged.get("/today").text


@pytest.mark.parametrize(
    ("to", "leads"),
    [("//evil.example/", "/evil.example/"), ("/\\evil.example", "/evil.example"),
     ("https://evil.example/", "/https"),
     ("/a\r\nset-cookie: x=1", "/aset-cookie:%20x=1"), ("javascript:alert(1)", "/javascript"), ("", "/"),
     ("/\t/evil.example", "/evil.example"), (" //evil.example", "/evil.example")],
)  # fmt: skip
def test_the_code_leads_nowhere_else(stranger, devices, to, leads):
    """However the page was called."""
    answer = stranger.post("/let-in", data={"code": devices.code, "to": to}, follow_redirects=False)

    assert answer.headers["location"].startswith(leads)
    assert 1 == len(answer.headers.get_list("set-cookie"))


@pytest.mark.parametrize(
    ("content", "kind"),
    [(b"code=1&" * 2000, "application/x-www-form-urlencoded"),
     (b"\xff\xfe", "application/x-www-form-urlencoded"),
     (b'{"code": 1}', "application/json"), (b"code=1", "text/plain"), (b"", ""),
     (b"a=1&b=1&c=1&d=1&e=1&f=1&g=1&h=1&i=1", "application/x-www-form-urlencoded")],
)  # fmt: skip
def test_what_is_no_form_lets_nobody_in(stranger, devices, content, kind):
    """And is no try at a code either."""
    answer = stranger.post("/let-in", content=content, headers={"content-type": kind})

    assert (403, False) == (answer.status_code, "set-cookie" in answer.headers)
    assert [] == devices.list_wrong()


def test_what_is_typed_is_never_markup(stranger, owner, devices):
    """On the code's page and on the machine's list of devices."""
    nasty = '"><script>x</script>'

    again = stranger.post("/let-in", data={"code": "1", "name": nasty, "to": nasty}).text
    asked = stranger.get(f"/today?{nasty}").text
    stranger.post("/let-in", data={"code": devices.code, "name": nasty, "to": "/"})

    for page in (again, asked, owner.get("/phones").text):
        assert "<script>x" not in page


def test_without_phones_there_is_no_such_page(desk):
    """It says how there is one."""
    answer = desk.get("/phones")

    assert 404 == answer.status_code
    assert "--phones" in said(answer.text)
    assert 'href="/phones"' not in desk.get("/lots").text


@pytest.mark.parametrize(
    ("query", "leads"),
    [("bag=B-1", "/record/bagging/B-1"), ("bag=B-1&tree=01", "/record/bagging/B-1"),
     ("bag=B-7&tree=01", "/enter/bag-on?bag=B-7&tree=01"), ("tree=03", "/enter/bag-on?tree=03"),
     ("bag=..%2f..%2fphones&tree=01", "/enter/bag-on?bag=..%2F..%2Fphones&tree=01"), ("", "/enter/bag-on")],
)  # fmt: skip
def test_a_tag_leads_to_its_bag_or_to_the_entry_of_one(desk, query, leads):
    """With the number and the tree filled in."""
    answer = desk.get(f"/bag?{query}", follow_redirects=False)

    assert (303, leads) == (answer.status_code, answer.headers["location"])


def test_a_tag_that_says_its_tree_leads_to_the_tree_s_bags(desk):
    """Which of them it hangs at stands on it; a bag just put on is one step away."""
    page = desk.get("/bag?tree=01").text

    assert ["/record/bagging/B-1"] == re.findall(r'href="(/record/bagging/[^"]+)"', page)
    assert 'href="/enter/bag-on?tree=01"' in page


def test_two_tags_of_one_number_are_told_apart(desk):
    """Before anything is entered for the wrong bag."""
    answer = desk.get("/bag?bag=B-1&tree=02")

    assert 409 == answer.status_code
    assert "Two tags bear the number B-1" in said(answer.text)


def find_listening() -> str:
    """Another address of this machine's own, where there is one to listen at."""
    for address in ("127.0.0.2",):
        with socket.socket() as trial:
            try:
                trial.bind((address, 0))
            except OSError:
                continue
            return address
    pytest.skip("this system knows no second address of its own")


def test_the_desk_really_listens_at_both_and_ends_with_its_program(held):
    """The machine's address takes the token, the network's the code; afterwards nobody answers there."""
    address = find_listening()
    desk = open_desk(held, 0, (address,))
    assert desk.devices is not None
    port = desk.listening.getsockname()[1]
    server = desk.build_server()
    thread = Thread(target=server.run, kwargs={"sockets": [desk.listening, *desk.beside]})
    thread.start()
    wait_until(lambda: server.started)

    def ask(host: str, method: str = "GET", path: str = "/today", **sent):
        connection = http.client.HTTPConnection(host, port)
        connection.request(method, path, **sent)
        answer = connection.getresponse()
        body = answer.read().decode()
        connection.close()
        return answer, body

    with ExitStack() as ending:
        ending.callback(desk.close)
        ending.callback(thread.join)
        ending.callback(setattr, server, "should_exit", True)
        token = desk.address.partition("?token=")[2]
        own, _ = ask("127.0.0.1", path=f"/lots?token={token}")
        stolen, page = ask(address, path=f"/lots?token={token}")
        form = {"content-type": "application/x-www-form-urlencoded", "origin": f"http://{address}:{port}"}
        let_in, _ = ask(address, "POST", "/let-in", body=f"code={desk.devices.code}&to=/lots", headers=form)
        cookie = (let_in.getheader("set-cookie") or "").partition(";")[0]
        seen, lots = ask(address, path="/lots", headers={"cookie": cookie})

    assert [303, 403, 303, 200] == [one.status for one in (own, stolen, let_in, seen)]
    assert "Code for this device" in page
    assert "AK-26-1" in lots
    with pytest.raises(OSError):  # noqa: PT011 (each system says it in its own way)
        socket.create_connection((address, port), timeout=2).close()

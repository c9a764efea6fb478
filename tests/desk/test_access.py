"""Who may ask the desk for anything."""

from __future__ import annotations

import pytest
from desk_client import ORIGIN, PORT, TOKEN
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect


def test_the_token_opens_the_desk_once_and_leaves_the_address(desk):
    """The browser keeps it in a cookie that no script reads and no other site sends; the address goes
    without.
    """
    fresh = TestClient(desk.app, base_url=ORIGIN)

    answer = fresh.get(f"/findings?token={TOKEN}&lot=L%261", follow_redirects=False)

    assert (303, "/findings?lot=L%261") == (answer.status_code, answer.headers["location"])
    assert {"httponly", "samesite=strict", "path=/"} <= set(answer.headers["set-cookie"].lower().split("; "))
    assert 200 == fresh.get("/findings").status_code


@pytest.mark.parametrize("token", ["", "wrong", TOKEN[:-1], TOKEN + "x", "ü", "%00"])
@pytest.mark.parametrize("path", ["/today", "/version", "/style.css", "/record/bagging/B-1", "/nowhere"])
def test_nothing_is_told_without_the_token(desk, path, token):
    """Not a page, nor whether there is one."""
    fresh = TestClient(desk.app, base_url=ORIGIN, cookies={f"certgen-desk-{PORT}": "guess"})

    answer = fresh.get(f"{path}?token={token}")

    assert 403 == answer.status_code
    assert "Larkfold" not in answer.text


HOSTS = (
    "evil.example", f"evil.example:{PORT}", "127.0.0.1", f"127.0.0.1:{PORT + 1}", "", f"127.0.0.1.:{PORT}",
    f"LOCALHOST:{PORT}", f"localhost.:{PORT}", f"[::1]:{PORT}", f"[::ffff:127.0.0.1]:{PORT}",
    f"127.1:{PORT}", f"2130706433:{PORT}", f"0.0.0.0:{PORT}", f"127.0.0.1:{PORT}.evil.example",
    f"127.0.0.1:{PORT}@evil.example", f"127.0.0.1:0{PORT}", f"127.0.0.1:{PORT}, evil.example",
)  # fmt: skip
ORIGINS = (
    "http://evil.example", "null", f"http://localhost:{PORT}", f"https://127.0.0.1:{PORT}", "", ORIGIN + "/",
    ORIGIN + ".evil.example", f"http://127.0.0.1:{PORT + 1}", ORIGIN.upper(), f"{ORIGIN} {ORIGIN}", "file://",
)  # fmt: skip


def test_another_name_of_this_machine_is_refused(desk):
    """A page that gave its own name this machine's number (DNS rebinding) gets nothing, though the cookie
    came.
    """
    answers = [desk.get("/today", headers={"host": host}) for host in HOSTS]

    assert [421] * len(HOSTS) == [answer.status_code for answer in answers]
    assert not any("Larkfold" in answer.text for answer in answers)


def test_a_form_of_another_page_changes_nothing(desk, folder):
    """Even with the cookie, what comes from elsewhere is refused and no file is touched."""
    before = (folder / "bags.yaml").read_bytes()
    form = {"bag": "B-3", "tree": "01"}

    answers = [desk.post("/enter/bag-on", data=form, headers={"origin": origin}) for origin in ORIGINS]

    assert [403] * len(ORIGINS) == [answer.status_code for answer in answers]
    assert before == (folder / "bags.yaml").read_bytes()


def test_a_request_that_names_no_origin_must_say_it_is_of_this_site(desk, held):
    """A browser that leaves the origin out says the same in another way; a request that says neither is
    refused.
    """
    bare = TestClient(desk.app, base_url=ORIGIN, cookies=desk.cookies)
    form = {"bag": "B-3", "tree": "01"}

    assert 403 == bare.post("/enter/bag-on", data=form).status_code
    assert 403 == bare.post("/enter/bag-on", data=form, headers={"sec-fetch-site": "cross-site"}).status_code
    assert "B-3" not in held.look().season.tables["bagging"]["bag"].tolist()
    bare.post("/enter/bag-on", data=form, headers={"sec-fetch-site": "same-origin"})
    assert "B-3" in held.look().season.tables["bagging"]["bag"].tolist()


@pytest.mark.parametrize("path", ["/today", "/nowhere", "/style.css", "/desk.js", "/enter/bag-on"])
def test_every_answer_bears_the_policy(desk, path):
    """Nothing from elsewhere is loaded, no script stands in a page, no other page may frame it."""
    answer = desk.get(path)
    policy = answer.headers["content-security-policy"]

    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "nosniff" == answer.headers["x-content-type-options"]


def test_no_page_leads_elsewhere(desk):
    """A path that begins with two strokes would be another machine's address."""
    answer = TestClient(desk.app, base_url=ORIGIN).get(
        f"//evil.example/?token={TOKEN}", follow_redirects=False
    )

    assert not answer.headers.get("location", "/").startswith("//")


@pytest.mark.parametrize(
    "path",
    [
        "/../secret.txt",
        "/%2e%2e/secret.txt",
        "/record/bagging/..%2f..%2fsecret.txt",
        "/tables/..%2fsecret.txt",
    ],
)
def test_nothing_outside_the_season_is_served(desk, folder, path):
    """Whatever a path says, it is no file's."""
    (folder.parent / "secret.txt").write_text("nobody's business", encoding="utf-8")

    answer = desk.get(path)

    assert 404 == answer.status_code
    assert "nobody's business" not in answer.text


def test_what_is_said_twice_is_not_read_at_all(desk):
    """It could be read in two ways."""
    own = {
        "host": ORIGIN[7:],
        "origin": ORIGIN,
        "sec-fetch-site": "same-origin",
        "content-type": "text/plain",
    }
    bare = TestClient(desk.app, base_url=ORIGIN, cookies=desk.cookies)

    answers = [bare.get("/today", headers=[(name, value)] * 2) for name, value in own.items()]

    assert [400] * 4 == [answer.status_code for answer in answers]


def test_the_token_counts_in_the_address_and_the_cookie_only(desk):
    """A header that says where a request came from lets nobody in."""
    fresh = TestClient(desk.app, base_url=ORIGIN)

    for where in ("referer", "authorization", "x-token", "x-forwarded-host", "x-original-url"):
        assert 403 == fresh.get("/today", headers={where: f"{ORIGIN}/?token={TOKEN}"}).status_code


def test_the_token_is_told_to_nobody(desk):
    """The answer that takes it from the address is kept nowhere, and no page names it."""
    fresh = TestClient(desk.app, base_url=ORIGIN)

    answer = fresh.get(f"/today?token={TOKEN}", follow_redirects=False)

    assert "no-store" == answer.headers["cache-control"]
    assert "same-origin" == answer.headers["referrer-policy"]
    assert TOKEN not in answer.headers["location"]
    assert TOKEN not in "".join(desk.get(path).text for path in ("/today", "/desk.js", "/papers"))


def test_the_token_lets_no_change_through_by_the_address(desk, folder):
    """A form is sent by a page, and a page was opened by the cookie."""
    before = (folder / "bags.yaml").read_bytes()
    fresh = TestClient(desk.app, base_url=ORIGIN, headers={"origin": ORIGIN})

    answer = fresh.post(f"/enter/bag-on?token={TOKEN}", data={"bag": "B-3", "tree": "01"})

    assert 403 == answer.status_code
    assert before == (folder / "bags.yaml").read_bytes()


COOKIES = (
    f"certgen-desk-{PORT + 1}={TOKEN}", f"certgen-desk-{PORT}x={TOKEN}", f'certgen-desk-{PORT}="{TOKEN}"',
    f"certgen-desk-{PORT}={TOKEN}x", f"certgen-desk-{PORT}=", f"certgen-desk-{PORT}", "=" * 9000,
    f'certgen-desk-{PORT}="' + "\\" * 60_000,
)  # fmt: skip


def test_no_other_cookie_lets_anybody_in(desk):
    """Nor does one keep the desk busy."""
    fresh = TestClient(desk.app, base_url=ORIGIN)

    for cookie in COOKIES:
        assert 403 == fresh.get("/today", headers={"cookie": cookie}).status_code


def test_no_other_method_is_answered(desk, folder):
    """Nothing is told of a request, no other page is allowed anything, no file is touched."""
    before = (folder / "bags.yaml").read_bytes()

    for method in ("OPTIONS", "TRACE", "PUT", "DELETE", "PATCH", "CONNECT", "PROPFIND"):
        for path in ("/today", "/record/bagging/B-1", "/papers", "/nowhere"):
            answer = desk.request(method, path)
            assert answer.status_code in {404, 405}
            assert not [name for name in answer.headers if name.startswith("access-control")]
            assert TOKEN not in answer.text
    assert before == (folder / "bags.yaml").read_bytes()


def test_a_head_has_no_body(desk):
    """And is let in like a reading."""
    answer = desk.head("/today")

    assert (200, b"") == (answer.status_code, answer.content)
    assert 403 == TestClient(desk.app, base_url=ORIGIN).head("/today").status_code


def test_no_answer_about_the_season_is_kept(desk):
    """The next user of this browser finds nothing in its cache."""
    fresh = TestClient(desk.app, base_url=ORIGIN)

    for path in ("/today", "/nowhere", "/version", "/findings", "/bag?bag=B-1", "/"):
        for client in (desk, fresh):
            assert "no-store" == client.get(path, follow_redirects=False).headers["cache-control"]


def test_a_socket_that_stays_open_is_not_opened(desk):
    """There is nothing that a page from elsewhere could listen to."""
    with pytest.raises(WebSocketDisconnect), desk.websocket_connect("/today"):
        pass


def test_nobody_is_sent_elsewhere_by_what_is_nearly_an_address(desk):
    """It is told that there is no such page."""
    for path in ("/tables/", "/today/", "/lots//", "//evil.example/tables/"):
        assert 404 == desk.get(path, follow_redirects=False).status_code


FORM = "application/x-www-form-urlencoded"
NO_FORMS = (
    ("application/json", b"[" * 100_000), ("application/json", b"null"), ("application/json", b"\xff"),
    ("application/json", b'{"rows": [null]}'), ("application/json", b'{"rows": 1e999}'),
    ("application/json", b'{"rows": [{"bag": {"a": 1}}]}'), ("text/plain", b"bag=B-3&tree=01"), ("", b"x"),
    ("multipart/form-data; boundary=x", b"--x\r\n\r\n"), ("application/octet-stream", b"\0"),
    (FORM, b"&".join([b"a=1"] * 30_000)), (FORM, b"%00=%00&bag=%ED%A0%80&tree=%00&covered=9999999-99-99"),
    (FORM, b"sources.999999999.batch=x&bags.0.=1&.=1&was.tree=x&tree="),
)  # fmt: skip


@pytest.mark.parametrize(
    "path", ["/enter/bag-on", "/enter/bag-on/try", "/tables/bagging/cells", "/record/bagging/B-1", "/papers"]
)
def test_what_is_no_form_of_ours_is_refused_in_words(desk, path):
    """It never makes the desk fail."""
    for kind, content in NO_FORMS:
        answer = desk.post(path, content=content, headers={"content-type": kind})
        assert answer.status_code < 500, (kind, content[:40])


def test_what_says_that_it_is_too_much_is_not_waited_for(desk):
    """Nor what is too much and doesn't say so."""
    declared = desk.post("/papers", content=b"x", headers={"content-length": str(1 << 30)})
    endless = desk.post("/enter/bag-on", content=(b"x" * 65_536 for _ in range(100)))

    assert [413, 413] == [declared.status_code, endless.status_code]

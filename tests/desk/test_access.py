"""Who may ask the desk for anything."""

from __future__ import annotations

import pytest
from desk_client import ORIGIN, PORT, TOKEN
from starlette.testclient import TestClient


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


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", f"127.0.0.1:{PORT + 1}", ""]
)
def test_another_name_of_this_machine_is_refused(desk, host):
    """A page that gave its own name this machine's number (DNS rebinding) gets nothing, though the cookie
    came.
    """
    answer = desk.get("/today", headers={"host": host})

    assert 421 == answer.status_code
    assert "Larkfold" not in answer.text


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"http://localhost:{PORT}", f"https://127.0.0.1:{PORT}", ""]
)
def test_a_form_of_another_page_changes_nothing(desk, folder, origin):
    """Even with the cookie, what comes from elsewhere is refused and no file is touched."""
    before = (folder / "bags.yaml").read_bytes()

    answer = desk.post("/enter/bag-on", data={"bag": "B-3", "tree": "01"}, headers={"origin": origin})

    assert 403 == answer.status_code
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

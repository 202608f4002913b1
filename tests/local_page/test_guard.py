"""Nobody gets in but the window that was opened with the key, and nothing leads out of the folder."""

from __future__ import annotations

import io
import os
import socket
from pathlib import Path
from urllib.parse import quote

import pytest

from gearfit.errors import InputError
from gearfit.local_page.files_of_ride import take_in
from tests.local_page.served import ADDRESS, ORIGIN, Window, bike_in, serving

CHANGES = (
    "/bikes",
    "/unit",
    "/bike/tarn/machine",
    "/bike/tarn/predict",
    "/bike/tarn/readings/before/holds.csv",
    "/bike/tarn/misfits",
    "/bike/tarn/logs/before",
    "/bike/tarn/logs/before/change",
    "/bike/tarn/plan",
    "/here/0123456789",
    "/gone/0123456789",
)
PLACES = ("/", *(f"/bike/tarn/{page}" for page in ("machine", "readings", "logs", "report", "plan", "state")))


@pytest.fixture
def window(tmp_path: Path) -> Window:
    bike_in(tmp_path)
    return Window(tmp_path)


@pytest.mark.parametrize("path", PLACES)
def test_pages_open_with_the_key_alone(window: Window, path: str) -> None:
    assert window.get(path).status_code == 200
    stranger = window.app.test_client()
    assert stranger.get(path, headers={"Host": ADDRESS}).status_code == 403
    stranger.set_cookie("gearfit-4321", "guess")
    assert stranger.get(path, headers={"Host": ADDRESS}).status_code == 403


def test_every_address_that_changes_something_is_tried() -> None:
    from gearfit.local_page.app import pages  # noqa: F401 - registers

    window = Window(Path.cwd())
    rules = {str(rule) for rule in window.app.url_map.iter_rules() if "POST" in (rule.methods or ())}
    assert len(rules) == len(CHANGES)


@pytest.mark.parametrize("path", CHANGES)
@pytest.mark.parametrize("origin", ["http://example.org", "null", "http://127.0.0.1:1", "https://127.0.0.1:4321", None])
def test_other_sites_change_nothing(window: Window, path: str, origin: str | None) -> None:
    headers = {"Host": ADDRESS} | ({} if origin is None else {"Origin": origin})
    assert window.client.post(path, headers=headers).status_code == 403


@pytest.mark.parametrize("host", ["example.org", "example.org:4321", "localhost:4321", "127.0.0.1", ""])
def test_a_foreign_name_for_this_machine_gets_nothing(window: Window, host: str) -> None:
    assert window.client.get("/", headers={"Host": host}).status_code == 403


def test_a_wrong_key_opens_nothing(window: Window) -> None:
    stranger = window.app.test_client()
    answer = stranger.get("/enter/wrong", headers={"Host": ADDRESS})
    assert answer.status_code == 403
    assert "Set-Cookie" not in answer.headers


def test_the_cookie_stays_on_this_site_and_from_scripts(window: Window) -> None:
    answer = window.app.test_client().get(f"/enter/{window.guard.key}", headers={"Host": ADDRESS})
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert window.guard.key not in cookie


def test_pages_load_nothing_from_elsewhere(window: Window) -> None:
    answer = window.get("/")
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    for path in PLACES:
        text = window.get(path).text
        assert "http://" not in text
        assert "https://" not in text
        assert "<style" not in text
        assert " style=" not in text
        assert " on" not in {part[:3] for part in text.split("<")}


def test_names_are_text_and_never_markup(tmp_path: Path) -> None:
    name = '<img src=x onerror="alert(1)">'
    bike_in(tmp_path, "evil", f"name = '{name}'\n")
    (tmp_path / "evil" / "before" / '"><b>.csv').write_text("x", "utf-8")
    window = Window(tmp_path)
    for path in ("/", "/bike/evil/machine", "/bike/evil/logs", "/bike/evil/report"):
        text = window.get(path).text
        assert name not in text
        assert "<b>" not in text
    assert "&lt;img src=x" in window.get("/").text


OUTSIDE = ("..", "../outside", "%2e%2e", "..%2foutside", "/etc", ".", "outside", "tarn/../../outside", "C:\\", "\0")


@pytest.mark.parametrize("place", OUTSIDE)
def test_no_address_leads_out_of_the_folder(tmp_path: Path, place: str) -> None:
    bike_in(tmp_path / "bikes")
    bike_in(tmp_path, "outside")
    window = Window(tmp_path / "bikes")
    for address in (f"/bike/{quote(place, safe='')}/machine", f"/bike/{place}/machine"):
        assert window.get(address).status_code in (308, 404)
    assert window.get(f"/bike/tarn/report/{quote(place, safe='')}").status_code in (308, 404)
    assert window.post(f"/bike/tarn/logs/{quote(place, safe='')}?name=a.csv", data=b"x").status_code in (308, 404, 405)
    assert window.post(
        f"/bike/tarn/readings/before/{quote(place, safe='')}", json={"head": [], "rows": []}
    ).status_code in (308, 404)


@pytest.mark.parametrize(
    ("name", "saved"),
    [
        ("../../evil.csv", "evil.csv"),
        ("..\\..\\evil.csv", "evil.csv"),
        ("/etc/passwd", "passwd"),
        (".hidden.csv", "hidden.csv"),
        ("a\u202ecsv.gpx", "a_csv.gpx"),
        ("a:b|c?.csv", "a_b_c_.csv"),
        ("x" * 300 + ".csv", "x" * 90 + ".csv"),
    ],
)
def test_names_of_files_are_cleaned(tmp_path: Path, window: Window, name: str, saved: str) -> None:
    before = {path for path in tmp_path.rglob("*") if path.is_file()}
    answer = window.post(f"/bike/tarn/logs/before?name={quote(name, safe='')}", data=b"time_s,rpm\n0,1000\n")
    assert answer.get_json() == {"name": saved}
    assert {path for path in tmp_path.rglob("*") if path.is_file()} - before == {tmp_path / "tarn" / "before" / saved}


@pytest.mark.parametrize("name", ["", "...", "/", "CON", "nul.txt", "bike.toml"])
def test_names_that_are_none_are_refused(window: Window, name: str) -> None:
    answer = window.post(f"/bike/tarn/logs/before?name={quote(name, safe='')}", data=b"x")
    assert answer.status_code == 400
    assert "cannot be the name of a log" in answer.get_json()["fault"]


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links")
def test_links_are_not_followed(tmp_path: Path) -> None:
    ride = bike_in(tmp_path / "bikes")
    secret = tmp_path / "secret"
    secret.mkdir()
    (secret / "holds.csv").write_text("gear,rpm,speed_kmh\n", "utf-8")
    (secret / "report.html").write_text("secret", "utf-8")
    for inside in ("before", "report"):
        for path in (ride / inside).glob("*"):
            path.unlink()
        if (ride / inside).exists():
            (ride / inside).rmdir()
        (ride / inside).symlink_to(secret)
    window = Window(tmp_path / "bikes")
    assert window.get("/bike/tarn/report/report.html").status_code == 404
    assert window.post("/bike/tarn/logs/before?name=a.csv", data=b"x").status_code == 400
    sent = {"head": ["gear"], "rows": [["1"]], "revision": ""}
    assert window.post("/bike/tarn/readings/before/holds.csv", json=sent).status_code == 400
    assert sorted(path.name for path in secret.iterdir()) == ["holds.csv", "report.html"]


def test_too_much_is_refused(window: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    from gearfit.local_page import files_of_ride

    monkeypatch.setattr(files_of_ride, "LARGEST_BYTES", 1000)
    answer = window.post("/bike/tarn/logs/before?name=a.csv", data=b"x" * 2000)
    assert answer.status_code == 400
    assert "allowed are files up to" in answer.get_json()["fault"]
    monkeypatch.setattr(files_of_ride, "MOST_FILES", 2)
    assert "files already" in window.post("/bike/tarn/logs/before?name=a.csv", data=b"x").get_json()["fault"]
    assert window.post("/bike/tarn/predict", data=b"{" + b" " * 3_000_000).status_code == 413
    sent = {"head": ["gear"], "rows": [["1"]] * 5000, "revision": ""}
    assert "allowed are 2000 rows" in window.post("/bike/tarn/readings/before/holds.csv", json=sent).get_json()["fault"]


def test_what_no_page_sends_is_refused(window: Window) -> None:
    sent: object
    for sent in ([], "x", {"head": 1}, {"head": ["a"], "rows": "x"}, {"head": ["a"], "rows": [1]}, {"rows": []}):
        assert window.post("/bike/tarn/readings/before/holds.csv", json=sent).status_code == 400
        assert window.post("/bike/tarn/misfits", json=sent).status_code == 400


def test_a_file_that_comes_in_part_leaves_nothing(tmp_path: Path, window: Window) -> None:
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(InputError, match="only 11 of 5000 bytes came"):
        take_in(tmp_path / "tarn", "before", "a.csv", io.BytesIO(b"time_s,rpm\n"), 5000)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_slow_sender_keeps_nobody_waiting(tmp_path: Path) -> None:
    bike_in(tmp_path)
    with serving(tmp_path) as entrance:
        host, _, port = entrance.split("/")[2].partition(":")
        slow = [socket.create_connection((host, int(port)), timeout=5) for _ in range(20)]
        for one in slow:
            one.sendall(
                f"POST /bike/tarn/logs/before?name=a.csv HTTP/1.1\r\nHost: {host}:{port}\r\nOrigin: {ORIGIN}\r\n"
                "Content-Length: 1000000\r\n\r\nx".encode()
            )
        with socket.create_connection((host, int(port)), timeout=5) as other:
            other.sendall(f"GET / HTTP/1.1\r\nHost: {host}:{port}\r\nConnection: close\r\n\r\n".encode())
            assert other.recv(20).startswith(b"HTTP/1.1 403")
        for one in slow:
            one.close()


def test_a_huge_file_is_refused_before_it_is_taken_in(tmp_path: Path) -> None:
    bike_in(tmp_path)
    with serving(tmp_path) as entrance:
        host, _, port = entrance.split("/")[2].partition(":")
        with socket.create_connection((host, int(port)), timeout=20) as sender:
            sender.sendall(
                f"POST /bike/tarn/logs/before?name=a.csv HTTP/1.1\r\nHost: {host}:{port}\r\n"
                "Content-Length: 3000000000\r\n\r\nx".encode()
            )
            assert sender.recv(20).startswith(b"HTTP/1.1 413")
    assert not list((tmp_path / "tarn" / "before").glob("a*"))

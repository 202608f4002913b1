"""The pages: what each address shows and takes. Everything is done by the modules beside this one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from flask import Blueprint, Flask, Response, abort, current_app, jsonify, redirect, render_template, request, url_for
from jinja2 import StrictUndefined
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from gearfit.errors import GearfitError, InputError
from gearfit.foreign import safe_text
from gearfit.importers.folder import BIKE_FILE
from gearfit.local_page import files_of_ride, machine_form, sheets
from gearfit.local_page.files_of_ride import LARGEST_BYTES
from gearfit.local_page.garage import Garage, bike_name, bike_of, setups_of
from gearfit.local_page.guard import REPORT_POLICY, Guard
from gearfit.local_page.live import misfits, prediction
from gearfit.local_page.machine_fields import GROUPS
from gearfit.local_page.pages_open import PagesOpen
from gearfit.local_page.remembered import UNITS, remember
from gearfit.local_page.reporter import Reporter, report_file
from gearfit.local_page.stale import StaleError, read_text, revision, save
from gearfit.prediction.stated import read_hold
from gearfit.version import __version__
from gearfit.whole_files import write_whole

pages = Blueprint("pages", __name__)
#: What a page or a form may send besides a file.
_MOST_SENT_BYTES: Final = 2_000_000
_SAVED_ANSWER: Final = 409


def make_app(garage: Garage, address: str, unit: str, end: Callable[[], None]) -> tuple[Flask, Guard]:
    """Put the pages together.

    Parameters
    ----------
    garage : Garage
        The folder to work on.
    address : str
        Host and port.
    unit : {"kmh", "mph"}
        Unit of speed at first.
    end : callable
        Ends the program, called when the last page has gone.
    """
    app = Flask(__name__)
    # Flask escapes in templates that end with .html alone.
    app.jinja_options = {"autoescape": True, "undefined": StrictUndefined, "trim_blocks": True, "lstrip_blocks": True}
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BYTES
    app.extensions["gearfit"] = {"garage": garage, "reporter": Reporter(unit), "open": PagesOpen(end)}
    guard = Guard(app, address)
    app.register_blueprint(pages)
    app.register_error_handler(GearfitError, _complain)
    app.register_error_handler(HTTPException, _complain)
    app.context_processor(lambda: {"version": __version__, "unit": _reporter().unit})
    return app, guard


def _garage() -> Garage:
    found: Garage = current_app.extensions["gearfit"]["garage"]
    return found


def _reporter() -> Reporter:
    found: Reporter = current_app.extensions["gearfit"]["reporter"]
    return found


def _pages() -> PagesOpen:
    found: PagesOpen = current_app.extensions["gearfit"]["open"]
    return found


def _ride(place: str) -> Path:
    """Return the folder of an address, which is one of those that are listed."""
    found = _garage().folders().get(place)
    if found is None:
        abort(404, "There is no such bike: it may have been moved or renamed.")
    return found


def _setup(ride: Path, name: str) -> str:
    if name not in setups_of(ride):
        abort(404, "There is no such setup.")
    return name


def _complain(error: Exception) -> tuple[Any, int]:
    code = int(error.code or 500) if isinstance(error, HTTPException) else 400
    said = str(error.description or error.name) if isinstance(error, HTTPException) else str(error)
    if request.path.startswith("/enter/") or request.accept_mimetypes.best != "application/json":
        return render_template("said.html.j2", title="Not done", said=said), code
    return jsonify(fault=said), code


def _about(ride: Path, place: str, here: str) -> dict[str, Any]:
    return {"place": place, "name": bike_name(ride), "here": here, "setups": setups_of(ride)}


def _sent() -> dict[str, Any]:
    if (request.content_length or 0) > _MOST_SENT_BYTES:
        abort(413, "That is more than a page sends.")
    found = request.get_json(silent=True)
    if not isinstance(found, dict):
        abort(400, "This is not what these pages send.")
    return found


def _cells(found: object) -> list[list[str]]:
    if not isinstance(found, list) or not all(isinstance(row, list) for row in found):
        abort(400, "This is not what these pages send.")
    return [[str(cell) for cell in row] for row in found]


@pages.get("/")
def bikes() -> str:
    """Show the list of bikes."""
    return render_template("bikes.html.j2", bikes=_garage().listed(), root=safe_text(str(_garage().root)))


@pages.post("/bikes")
def new_bike() -> AnyResponse:
    """Make a bike."""
    name = request.form.get("name", "")
    place = _garage().make(name)
    path = _garage().root / place / BIKE_FILE
    document = machine_form.parsed(read_text(path))
    machine_form.fill_in(document, setups_of(path.parent), {"name": name.strip()[:200]})
    write_whole(path, document.as_string())
    return redirect(url_for("pages.machine", place=place))


@pages.post("/unit")
def choose_unit() -> AnyResponse:
    """Choose the unit of speed, once for all pages."""
    unit = request.form.get("unit", "")
    if unit not in UNITS:
        abort(400, "Allowed are km/h and mph.")
    _reporter().unit = unit
    remember(unit=unit)
    back = request.form.get("back", "/")
    return redirect(back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/")


@pages.get("/bike/<place>/machine")
def machine(place: str) -> str:
    """Show the form of the machine."""
    return _machine_page(place, _ride(place), {}, {})


def _machine_page(
    place: str, ride: Path, written: dict[str, str], faults: dict[str, str], theirs: str | None = None, saved: str = ""
) -> str:
    text = read_text(ride / BIKE_FILE)
    try:
        values = machine_form.texts(machine_form.parsed(text), setups_of(ride))
    except InputError as error:
        return render_template("said.html.j2", title="bike.toml cannot be shown as a form", said=str(error))
    return render_template(
        "machine.html.j2",
        **_about(ride, place, "machine"),
        groups=GROUPS,
        values={**values, **written},
        faults=faults,
        revision=revision(text),
        theirs=None if theirs is None else machine_form.texts(machine_form.parsed(theirs), setups_of(ride)),
        saved=saved,
    )


@pages.post("/bike/<place>/machine")
def save_machine(place: str) -> Any:  # noqa: ANN401 - a page, a move, or a page with a code
    """Save the form of the machine, if nobody saved it meanwhile and everything in it can be."""
    ride = _ride(place)
    written = {name: value[:500] for name, value in request.form.items() if name != "revision"}
    text = read_text(ride / BIKE_FILE)
    document = machine_form.parsed(text)
    bike, faults = machine_form.fill_in(document, setups_of(ride), written)
    if bike is None:
        return _machine_page(place, ride, written, faults), 422
    try:
        save(ride / BIKE_FILE, document.as_string(), request.form.get("revision", ""))
    except StaleError as error:
        return _machine_page(place, ride, written, {}, error.theirs), _SAVED_ANSWER
    return _machine_page(place, ride, {}, {}, saved="Saved.")


@pages.post("/bike/<place>/predict")
def predict_live(place: str) -> Response:
    """Say what the teeth in the form lead one to expect."""
    ride, sent = _ride(place), _sent()
    written = {str(name): str(value)[:500] for name, value in sent.get("fields", {}).items()}
    document = machine_form.parsed(read_text(ride / BIKE_FILE))
    bike, faults = machine_form.fill_in(document, setups_of(ride), written)
    if bike is None:
        return jsonify(lines=[], faults=faults)
    unit = _reporter().unit
    try:
        known = read_hold("the known pair", str(sent.get("known", "")).strip() or None, unit)
    except InputError as error:
        return jsonify(lines=prediction(bike, setups_of(ride), unit, None), faults={"known": str(error)})
    return jsonify(lines=prediction(bike, setups_of(ride), unit, known), faults={})


@pages.get("/bike/<place>/readings")
def readings(place: str) -> str:
    """Show the tables to type into, all sheets of all setups."""
    ride = _ride(place)
    setups, unit = setups_of(ride), _reporter().unit
    tables = [
        (setup, kind, sheets.read_sheet(ride / setup / kind.file, kind, unit))
        for setup in setups
        for kind in sheets.KINDS
        if kind.heads or (ride / setup / kind.file).is_file()
    ]
    return render_template("readings.html.j2", **_about(ride, place, "readings"), tables=tables, heads=sheets.HEADS)


@pages.post("/bike/<place>/readings/<setup>/<file>")
def save_readings(place: str, setup: str, file: str) -> Any:  # noqa: ANN401 - an answer, or one with a code
    """Save one table."""
    ride, sent = _ride(place), _sent()
    setup = _setup(ride, setup)
    if sheets.kind_of(file) is None:
        abort(404, "There is no such sheet.")
    (head,) = _cells([sent.get("head")])
    rows = _cells(sent.get("rows"))
    folder = files_of_ride.folder_of(ride, setup)
    delimiter = str(sent.get("delimiter", ","))
    try:
        version = sheets.save_sheet(folder / file, head, rows, str(sent.get("revision", "")), delimiter)
    except StaleError as error:
        theirs = sheets.as_table(error.theirs, tuple(head))
        return jsonify(head=theirs.head, rows=theirs.rows, revision=theirs.revision), _SAVED_ANSWER
    return jsonify(revision=version)


@pages.post("/bike/<place>/misfits")
def point_out(place: str) -> Response:
    """Point at readings that do not fit the others of their table."""
    ride, sent = _ride(place), _sent()
    (head,) = _cells([sent.get("head")])
    return jsonify(misfits=misfits(_cells(sent.get("rows"))[: sheets.MOST_ROWS], head, bike_of(ride)))


@pages.get("/bike/<place>/logs")
def logs(place: str) -> str:
    """Show the files of each setup and what is in them."""
    ride = _ride(place)
    found = [(setup, files_of_ride.listed(ride, setup)) for setup in setups_of(ride)]
    return render_template("logs.html.j2", **_about(ride, place, "logs"), found=found)


@pages.post("/bike/<place>/logs/<setup>")
def take_log(place: str, setup: str) -> Response:
    """Take in one file, sent as it is."""
    ride = _ride(place)
    name = files_of_ride.take_in(
        ride, _setup(ride, setup), request.args.get("name", ""), request.stream, request.content_length
    )
    return jsonify(name=name)


@pages.post("/bike/<place>/logs/<setup>/change")
def change_log(place: str, setup: str) -> AnyResponse:
    """Move a file to another setup, or to the removed ones."""
    ride = _ride(place)
    name, other = request.form.get("name", ""), request.form.get("to", "")
    if other:
        files_of_ride.move(ride, _setup(ride, setup), name, _setup(ride, other))
    else:
        files_of_ride.remove(ride, _setup(ride, setup), name)
    return redirect(url_for("pages.logs", place=place))


@pages.get("/bike/<place>/report")
def report(place: str) -> str:
    """Show the report, which is made again whenever the folder has changed."""
    ride = _ride(place)
    there = report_file(ride, "report.html") is not None
    return render_template("report.html.j2", **_about(ride, place, "report"), there=there)


@pages.get("/bike/<place>/state")
def state(place: str) -> Response:
    """Say where the report stands."""
    found = _reporter().state(_ride(place))
    return jsonify(busy=found.busy, times=found.times, answer=found.answer, fault=found.fault)


@pages.get("/bike/<place>/report/<name>")
def report_part(place: str, name: str) -> Response:
    """Give one file of the report."""
    path = report_file(_ride(place), name)
    if path is None:
        abort(404, "There is no such file in the report.")
    kinds = {".html": "text/html", ".png": "image/png", ".svg": "image/svg+xml", ".csv": "text/csv"}
    answer = Response(path.read_bytes(), content_type=f"{kinds.get(path.suffix, 'application/json')}; charset=utf-8")
    answer.headers["Content-Security-Policy"] = REPORT_POLICY
    return answer


@pages.route("/bike/<place>/plan", methods=["GET", "POST"])
def plan(place: str) -> str:
    """Show the cards that are there; when asked, work out what to ride next and make them."""
    ride = _ride(place)
    lines: list[str] = []
    fault = ""
    if request.method == "POST":
        code, lines, said = _reporter().run("plan", ride, "--units", _reporter().unit)
        lines = [line for line in lines if not line.startswith(("wrote ", "kept "))]
        fault = "" if code == 0 else said
    cards = [name for setup in setups_of(ride) if report_file(ride, name := f"test_card_{setup}.html")]
    return render_template("plan.html.j2", **_about(ride, place, "plan"), lines=lines, fault=fault, cards=cards)


@pages.post("/here/<page>")
def here(page: str) -> Response:
    """Note that a page is open."""
    _pages().here(page)
    return jsonify()


@pages.post("/gone/<page>")
def gone(page: str) -> Response:
    """Note that a page was closed."""
    _pages().gone(page)
    return jsonify()

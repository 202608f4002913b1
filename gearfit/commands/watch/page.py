"""watch.html: the report with a script that loads it anew when it has changed; only while a watch is on.

The page asks a small script beside it, `watch_state.js`, so that no network is needed. The report stays as it is.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Final

from gearfit.whole_files import write_together

PAGE: Final = "watch.html"
STATE: Final = "watch_state.js"
_POLICY: Final = re.compile(r'(<meta http-equiv="Content-Security-Policy" content=")([^"]*)(">)')
_SCRIPTS: Final = "script-src"
_EMPTY: Final = """<!doctype html>
<html lang="en-GB"><head><meta charset="utf-8"><title>gearfit is watching</title></head>
<body><main><h1>No report yet</h1><p>It appears here as soon as the folder holds a ride that can be read.</p></main>
</body></html>
"""
_SCRIPT: Final = """(function () {
  var stamp = %(stamp)s, messages = %(messages)s;
  if (window.gearfitStamp !== undefined) {
    if (window.gearfitStamp !== stamp) { window.location.reload(); }
    return;
  }
  window.gearfitStamp = stamp;
  if (messages.length) {
    var bar = document.createElement("div");
    bar.setAttribute("role", "alert");
    bar.style.cssText = "position:sticky;top:0;z-index:9;padding:.6em 1em;background:#5b1a1a;color:#fff";
    messages.forEach(function (text) {
      var line = document.createElement("p");
      line.textContent = text;
      bar.appendChild(line);
    });
    document.body.insertBefore(bar, document.body.firstChild);
  }
  window.setInterval(function () {
    var next = document.createElement("script");
    next.onload = next.onerror = function () { next.remove(); };
    next.src = "%(state)s?" + Date.now();
    document.head.appendChild(next);
  }, 1000);
})();
"""


def write_page(folder: Path, stamp: int, messages: Sequence[str]) -> Path:
    """Write watch.html and its state beside the report.

    Parameters
    ----------
    folder : pathlib.Path
        The report's folder.
    stamp : int
        Another one makes the open page load itself anew.
    messages : sequence of str
        What went wrong; stands at the top of the page.
    """
    report = folder / "report.html"
    page = page_text(report.read_text("utf-8") if report.is_file() else _EMPTY)

    def make(workshop: Path) -> list[str]:
        (workshop / PAGE).write_text(page, encoding="utf-8", newline="\n")
        (workshop / STATE).write_text(state_text(stamp, messages), encoding="utf-8", newline="\n")
        return [PAGE, STATE]

    return write_together(folder, make, part="watch")[0]


def remove_page(folder: Path) -> None:
    """Remove what a watch has written beside the report."""
    for name in (PAGE, STATE):
        (folder / name).unlink(missing_ok=True)


def page_text(report: str) -> str:
    """Return the text of the report with the script, allowed by its policy, before the end of the body."""
    allowed = _POLICY.sub(lambda match: f"{match[1]}{_with_scripts(match[2])}{match[3]}", report)
    head, end, tail = allowed.rpartition("</body>")
    return f'{head}<script src="{escape(STATE)}"></script>\n{end}{tail}'


def state_text(stamp: int, messages: Sequence[str]) -> str:
    """Return the script of the state; messages are data in it, never code."""
    safe = json.dumps(list(messages)).replace("<", "\\u003c")
    return _SCRIPT % {"stamp": json.dumps(stamp), "messages": safe, "state": STATE}


def _with_scripts(policy: str) -> str:
    """Allow scripts from files beside the page."""
    rules = [rule.strip() for rule in policy.split(";") if rule.strip()]
    if not any(rule.startswith(_SCRIPTS) for rule in rules):
        rules.append(_SCRIPTS)
    return "; ".join(f"{rule} 'self' file:" if rule.startswith(_SCRIPTS) else rule for rule in rules)

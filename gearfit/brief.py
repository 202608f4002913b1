"""How a record shows itself where somebody looks at it: on a screen, however much it holds."""

from __future__ import annotations

from dataclasses import fields
from typing import Final

#: Letters of one field at the most.
_MOST: Final = 60


class Brief:
    """A dataclass (made with `repr=False`) whose `repr` says how much its large fields hold, not all of it."""

    def __repr__(self) -> str:
        """Return its name with each field that holds something, shortened."""
        shown = [(field.name, getattr(self, field.name)) for field in fields(self)]  # type: ignore[arg-type]
        said = [f"{name}={_short(value)}" for name, value in shown if not _is_empty(value)]
        return f"{type(self).__name__}({', '.join(said)})"


def _is_empty(value: object) -> bool:
    return value is None or (isinstance(value, tuple | list | dict | str) and not value)


def _short(value: object) -> str:
    if isinstance(value, tuple | list | dict) and len(value) > 1:
        kinds = {type(each).__name__ for each in value}
        return f"<{len(value)} {kinds.pop() if len(kinds) == 1 else 'values'}>"
    if hasattr(value, "shape"):
        return f"<{' x '.join(map(str, value.shape))}>"
    text = repr(value)
    return text if len(text) <= _MOST else f"<{type(value).__name__}>"

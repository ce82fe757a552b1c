"""A calculation made within another: its faults, findings and assumptions are those of the whole, at the whole's own places."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from platemargin.declared import Arguments, Assumption, Fault, Finding, Path, Place

__all__ = ["Nested", "Part"]


@dataclass(frozen=True, kw_only=True)
class Part:
    """What a calculation within another was asked, and what it found."""

    asked: Arguments
    found: Any


@dataclass(frozen=True, kw_only=True)
class Nested:
    """How a calculation is made of the arguments of a whole, whose result holds its `Part` in `parts` by name.

    `asked` returns its arguments, or None where it is not asked for. Its members stand in the whole's request within
    `within`, but for those that `elsewhere` names.
    """

    name: str
    run: Callable[..., Any]
    asked: Callable[[Arguments], Arguments | None]
    within: Path = ()
    elsewhere: Mapping[str, Path] = field(default_factory=dict)

    def part(self, arguments: Arguments, **further: Any) -> dict[str, Part]:
        """Return the part by name; nothing where it is not asked for."""
        asked = self.asked(arguments)
        if asked is None:
            return {}
        asked = {**asked, **further}
        return {self.name: Part(asked=asked, found=self.run(**asked))}

    def path(self, path: Path) -> Path:
        """Return where in the whole's request something of this calculation's is."""
        if not path:
            return self.within
        head, *rest = path
        return (*self.elsewhere.get(str(head), (*self.within, head)), *rest)

    def fault(self, told: Fault) -> Fault:
        """Return a fault of this calculation as one of the whole."""
        at = self.path((told.field,))

        def broken(arguments: Arguments) -> Iterable[Place]:
            asked = self.asked(arguments)
            found: Iterable[Place] = () if asked is None else told.broken(asked)  # type: ignore[assignment]
            return [replace(place, path=(*at[1:], *place.path)) for place in found]

        return replace(told, field=str(at[0]), broken=broken)

    def finding(self, told: Finding) -> Finding:
        """Return a finding of this calculation as one of the whole."""

        def applies(_arguments: Arguments, result: Any) -> Iterable[Place]:
            part = result.parts.get(self.name)
            found: Iterable[Place] = () if part is None else told.applies(part.asked, part.found)  # type: ignore[assignment]
            return [replace(place, path=self.path(place.path)) for place in found]

        return replace(told, applies=applies)

    def assumption(self, told: Assumption) -> Assumption:
        """Return an assumption of this calculation as one of the whole."""

        def of_part(value: Any) -> Any:
            return (lambda _arguments, result: value(*self._of(result))) if callable(value) else value

        return replace(
            told,
            field=self._field(told.field),
            value=of_part(told.value),
            basis=of_part(told.basis),
            when=lambda _arguments, result: self.name in result.parts and told.when(*self._of(result)),
        )

    def _of(self, result: Any) -> tuple[Arguments, Any]:
        part = result.parts[self.name]
        return part.asked, part.found

    def _field(self, name: str) -> str:
        head = re.split(r"[.\[]", name)[0]
        return ".".join(map(str, self.path((head,)))) + name[len(head) :]

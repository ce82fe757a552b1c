"""What a person is told of an input that is not answered."""

from __future__ import annotations

from importlib import import_module
from types import ModuleType

__all__ = ["InputError", "MissingExtraError", "of_extra"]


class InputError(Exception):
    """An input that is not answered; the message says which and what to change."""


class MissingExtraError(Exception):
    """A part of the service that was not installed; the message says how it is."""


def of_extra(module: str, extra: str) -> ModuleType:
    """Return a module that needs what an extra of ours brings.

    Raises
    ------
    MissingExtraError
        Where that is not installed.
    """
    try:
        return import_module(module)
    except ModuleNotFoundError as error:
        raise MissingExtraError(f"{error.name} is not installed: pip install 'platemargin[{extra}]' brings it") from None

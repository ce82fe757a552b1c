"""Where the inputs are answered: in this process, or by the workers of a Dask scheduler."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeAlias

from platemargin_api.portfolio.one_file import Record, Task, answer_file
from platemargin_api.portfolio.refused import InputError, of_extra

__all__ = ["Done", "here", "on_dask"]

#: A task, and its record or why it has none.
Done: TypeAlias = tuple[Task, Record | InputError]
Advance: TypeAlias = Callable[[int], None]


def here(tasks: Sequence[Task], advance: Callable[[Task], Advance]) -> Iterator[Done]:
    """Yield the inputs as they are done, one after the other."""
    for task in tasks:
        try:
            yield task, answer_file(task, advance(task))
        except InputError as error:
            yield task, error


def on_dask(address: str, tasks: Sequence[Task]) -> Iterator[Done]:
    """Yield the inputs as they are done by workers that have platemargin and see the same files.

    An input whose worker is lost is answered by another, from its beginning.

    Raises
    ------
    InputError
        Where nothing answers at the address.
    """
    distributed = of_extra("distributed", "dask")
    try:
        client = distributed.Client(address)
    except (OSError, TimeoutError, ValueError) as error:
        raise InputError(f"no scheduler answers at {address}: {error}") from None
    with client:
        futures = dict(zip(client.map(answer_file, tasks, pure=False), tasks, strict=True))
        for future in distributed.as_completed(futures):
            yield futures[future], _record_of(future)
            future.release()


def _record_of(future: Any) -> Record | InputError:
    try:
        record: Record = future.result()
    except InputError as error:
        return error
    except Exception as error:  # noqa: BLE001  whatever the engine says of a file; the others go on
        return InputError(f"the engine gave it up: {type(error).__name__}: {error}")
    return record

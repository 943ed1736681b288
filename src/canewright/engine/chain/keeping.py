"""Results and states as arrays and plain text, to be written down and taken up again.

Nothing that is read can run: only arrays, numbers, text, moments and the classes named here.
"""

from __future__ import annotations

import dataclasses
import io
import json
from datetime import datetime
from typing import Any
from zipfile import BadZipFile

import numpy as np

from canewright.engine.chain.carried import Step
from canewright.engine.chain.chain_parts import (
    Block,
    ChainState,
    ClosedPeriod,
    EndedPeriod,
    Freed,
    Memory,
    Period,
    ShiftResult,
)
from canewright.engine.chain.filter import Totals
from canewright.engine.chain.setting_aside import SetAside
from canewright.engine.chain.watch import Call, Watch, WatchedStart

KNOWN: dict[str, Any] = {
    known.__name__: known
    for known in (
        Block,
        Call,
        ChainState,
        ClosedPeriod,
        EndedPeriod,
        Freed,
        Memory,
        Period,
        SetAside,
        ShiftResult,
        Step,
        Totals,
        Watch,
        WatchedStart,
    )
}
LEFT_OUT = ("local",)
"""Fields that are made again when they are needed."""


def written(content: Any) -> bytes:
    """Content as bytes."""
    arrays: dict[str, np.ndarray] = {}
    outline = _outlined(content, arrays)
    file = io.BytesIO()
    text = np.frombuffer(json.dumps(outline).encode(), dtype=np.uint8)
    np.savez(file, outline=text, **arrays)  # type: ignore[arg-type]
    return file.getvalue()


def read(content: bytes) -> Any:
    """What was written.

    Raises
    ------
    ValueError
        If the bytes are not of this form.
    """
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as file:
            outline = json.loads(bytes(file["outline"]).decode())
            return _taken_up(outline, file)
    except (OSError, KeyError, TypeError, EOFError, ValueError, BadZipFile) as error:
        raise ValueError("The file was not written by this version.") from error


def _outlined(content: Any, arrays: dict[str, np.ndarray]) -> Any:
    if content is None or isinstance(content, bool | int | float | str):
        return content
    if isinstance(content, np.generic):
        return content.item()
    if isinstance(content, np.ndarray):
        name = f"a{len(arrays)}"
        arrays[name] = content
        return {"array": name}
    if isinstance(content, datetime):
        return {"moment": content.isoformat()}
    if dataclasses.is_dataclass(content) and type(content).__name__ in KNOWN:
        fields = {
            item.name: _outlined(getattr(content, item.name), arrays)
            for item in dataclasses.fields(content)
            if item.name not in LEFT_OUT
        }
        return {"class": type(content).__name__, "fields": fields}
    if isinstance(content, dict):
        return {"pairs": [[key, _outlined(value, arrays)] for key, value in content.items()]}
    if isinstance(content, tuple):
        return {"tuple": [_outlined(item, arrays) for item in content]}
    if isinstance(content, list):
        return [_outlined(item, arrays) for item in content]
    raise TypeError(f"{type(content).__name__} cannot be written down.")


def _taken_up(outline: Any, arrays: Any) -> Any:
    if isinstance(outline, list):
        return [_taken_up(item, arrays) for item in outline]
    if not isinstance(outline, dict):
        return outline
    if "array" in outline:
        return arrays[outline["array"]]
    if "moment" in outline:
        return datetime.fromisoformat(outline["moment"])
    if "tuple" in outline:
        return tuple(_taken_up(item, arrays) for item in outline["tuple"])
    if "pairs" in outline:
        return {key: _taken_up(value, arrays) for key, value in outline["pairs"]}
    fields = {name: _taken_up(value, arrays) for name, value in outline["fields"].items()}
    return KNOWN[outline["class"]](**fields)

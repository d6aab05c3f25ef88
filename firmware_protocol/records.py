"""Frozen dataclasses that are ready at once.

The standard decorator writes the source of six methods for each class and has it compiled, whether or not the class is
ever used: for two hundred classes a fifth of a second before anything is done. Here it is asked for the fields and the
slots only. A method that has to be quick is written, as the standard writes it, when it is first called; the others
need no source of their own. In all else the classes are the standard's, and type checkers are shown its decorator.

Only for ``frozen=True, slots=True``; fields with ``init=False`` or ``kw_only``, which nobody here needs, are refused.
"""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING, Field, FrozenInstanceError, fields
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from collections.abc import Callable
    from dataclasses import dataclass as dataclass

    Fields = tuple[Field[Any], ...]
    Written = tuple[str, dict[str, Any]]  # source, and what its names stand for
else:

    def dataclass(*, frozen, slots):
        """Both are said where they are read, and both must be true."""
        if not (frozen and slots):
            raise TypeError("these are frozen and have slots; else take the standard decorator")
        return _record


def _record(cls: type) -> type:
    cls.__doc__ = cls.__doc__ or cls.__name__  # else the standard writes one from a signature
    methods = {name: _to_write(name, text) for name, text in _TEXTS.items()}
    for name, method in (_FIXED | methods).items():
        if name not in vars(cls):  # what the class itself says stands
            setattr(cls, name, method)
    # It makes the class anew for the slots, and what was set above goes along.
    ready: type = dataclasses.dataclass(init=False, repr=False, eq=False, slots=True)(cls)
    if any(not each.init or each.kw_only for each in fields(ready)):
        raise TypeError(f"{cls.__name__}: no field with init=False or kw_only")
    return ready


def _to_write(name: str, text: Callable[[type], Written]) -> Callable[..., Any]:
    """Stands for a method until it is called; then the class that it is of has the method itself."""

    written: list[Callable[..., Any]] = []

    def first(self: Any, *given: Any, **named: Any) -> Any:
        cls = next((each for each in type(self).__mro__ if vars(each).get(name) is first), None)
        if cls is not None:  # else another thread was here first
            source, known = text(cls)
            exec(source, known)
            written.append(known[name])
            setattr(cls, name, known[name])
        return written[0](self, *given, **named)

    first.__name__ = name
    return first


def _init(cls: type) -> Written:
    taken, kept = ["self"], []
    known: dict[str, Any] = {"_MISSING": MISSING}
    for each in fields(cls):
        name, value = each.name, each.name
        known[f"_set_{name}"] = getattr(cls, name).__set__  # of the slot: past what refuses
        if each.default is not MISSING:
            known[f"_of_{name}"] = each.default
            taken.append(f"{name}=_of_{name}")
        elif each.default_factory is not MISSING:
            known[f"_of_{name}"] = each.default_factory
            taken.append(f"{name}=_MISSING")
            value = f"_of_{name}() if {name} is _MISSING else {name}"
        else:
            taken.append(name)
        kept.append(f" _set_{name}(self, {value})")
    return "\n".join([f"def __init__({', '.join(taken)}):", *kept, " pass"]), known


def _eq(cls: type) -> Written:
    source = f"""def __eq__(self, other):
 if other.__class__ is not self.__class__:
  return NotImplemented
 return {_compared(cls, "self")} == {_compared(cls, "other")}"""
    return source, {}


def _hash(cls: type) -> Written:
    return f"def __hash__(self):\n return hash({_compared(cls, 'self')})", {}


def _compared(cls: type, whose: str) -> str:
    """The tuple of what two objects are compared by."""
    return "(" + "".join(f"{whose}.{each.name}, " for each in fields(cls) if each.compare) + ")"


def __repr__(self: Any) -> str:
    shown = (f"{each.name}={getattr(self, each.name)!r}" for each in fields(self) if each.repr)
    return f"{self.__class__.__qualname__}({', '.join(shown)})"


def __setattr__(self: Any, name: str, value: object) -> NoReturn:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def __delattr__(self: Any, name: str) -> NoReturn:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def __getstate__(self: Any) -> list[Any]:
    return [getattr(self, each.name) for each in fields(self)]


def __setstate__(self: Any, state: list[Any]) -> None:
    for each, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, each.name, value)


_TEXTS = {"__init__": _init, "__eq__": _eq, "__hash__": _hash}
_OF_ALL = (__repr__, __setattr__, __delattr__, __getstate__, __setstate__)
_FIXED: dict[str, Callable[..., Any]] = {each.__name__: each for each in _OF_ALL}

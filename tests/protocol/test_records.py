"""Our frozen dataclasses beside those of the standard library, which say what is right."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import json
import pickle
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import field

import pytest

from firmware_protocol.records import dataclass

STANDARD = dataclasses.dataclass(frozen=True, slots=True)
OURS = dataclass(frozen=True, slots=True)


def made(decorator):
    """Classes of each kind that is in use: with defaults, made defaults, inherited, single and empty."""

    @decorator
    class Point:
        """A place."""

        x: float
        y: float = 2.0
        told: tuple[str, ...] = field(default=(), compare=False)
        more: Mapping[str, int] = field(default_factory=dict, repr=False, hash=False)

        @property
        def sum(self) -> float:
            return self.x + self.y

    @decorator
    class High(Point):
        z: int = 5

    @decorator
    class One:
        only: str

    @decorator
    class Nothing:
        """No field at all."""

    return Point, High, One, Nothing


GIVEN = [
    ("Point", (1.0,), {}),
    ("Point", (1.0, 3.0), {"told": ("a",)}),
    ("Point", (), {"y": 1.0, "x": 2.0, "more": {}}),
    ("High", (1.0, 2.0), {"z": 6}),
    ("One", ("word",), {}),
    ("One", (float("nan"),), {}),
    ("Nothing", (), {}),
]
WRONG = [
    ("Point", (), {}),
    ("Point", (1.0,), {"x": 1.0}),
    ("Point", (1, 2, 3, 4, 5), {}),
    ("One", (1,), {"other": 2}),
    ("Nothing", (1,), {}),
]


def both(name: str):
    return [next(c for c in made(d) if c.__name__ == name) for d in (STANDARD, OURS)]


@pytest.mark.parametrize(("name", "given", "named"), GIVEN)
def test_objects_are_as_the_standards(name, given, named):
    theirs, ours = (cls(*given, **named) for cls in both(name))
    assert repr(ours) == repr(theirs)
    assert dataclasses.asdict(ours) == dataclasses.asdict(theirs) or name == "One"
    assert ours == type(ours)(*given, **named)
    assert ours != theirs and ours != 1
    assert ours.__doc__
    assert type(ours).__match_args__ == type(theirs).__match_args__
    assert type(ours).__slots__ == type(theirs).__slots__ and not hasattr(ours, "__dict__")
    assert [f.name for f in dataclasses.fields(ours)] == [
        f.name for f in dataclasses.fields(theirs)
    ]


def test_each_method_may_be_the_first_that_is_called():
    for first in (repr, hash, lambda each: each == each, copy.copy, dataclasses.replace):
        Point, High, *_ = made(OURS)
        # Past __init__, as unpickling in another process does.
        bare = Point.__new__(Point)
        bare.__setstate__([1.0, 2.0, (), ()])
        first(bare)
        assert bare == Point(1.0, more=()) and hash(bare) == hash(Point(1.0, more=()))
        assert High(1.0) != Point(1.0)


def test_a_method_that_somebody_kept_goes_on_working():
    """As one that another thread looked up just before it was written."""
    Point, High, *_ = made(OURS)
    kept, kept_of_heir, equal = Point.__init__, High.__init__, Point.__eq__
    assert Point(1.0) == Point(1.0)
    assert High(1.0, z=6) != High(1.0)
    one, other = Point.__new__(Point), High.__new__(High)
    kept(one, 4.0)
    kept_of_heir(other, 4.0, z=3)
    assert (one.x, one.y, other.x, other.z) == (4.0, 2.0, 4.0, 3)
    assert equal(one, Point(4.0)) and not equal(one, Point(5.0))


def test_what_is_not_compared_is_neither_hashed():
    *_, (Theirs, Ours) = [both("Point")]
    for cls in (Theirs, Ours):
        one, other = cls(1.0, told=("a",), more=()), cls(1.0, told=("b",), more=())
        assert one == other
    assert Ours(1.0, told=("a",), more=()) in {Ours(1.0, more=())}


@pytest.mark.parametrize(("name", "given", "named"), WRONG)
def test_wrong_arguments_are_refused_in_the_same_words(name, given, named):
    said = []
    for cls in both(name):
        with pytest.raises(TypeError) as wrong:
            cls(*given, **named)
        said.append(str(wrong.value).split("__init__()")[1])
    assert said[0] == said[1]


def test_a_default_is_made_anew_for_each():
    Point = both("Point")[1]
    assert Point(1.0).more == {} and Point(1.0).more is not Point(1.0).more


@pytest.mark.parametrize("change", [lambda p: setattr(p, "x", 1), lambda p: delattr(p, "x")])
def test_they_are_frozen_in_the_same_words(change):
    said = []
    for cls in both("Point"):
        with pytest.raises(dataclasses.FrozenInstanceError) as wrong:
            change(cls(1.0))
        said.append(str(wrong.value))
    assert said[0] == said[1]


def test_a_new_attribute_is_refused():
    with pytest.raises(AttributeError):
        both("Point")[1](1.0).other = 1


def test_copies_and_changes():
    High = both("High")[1]
    one = High(1.0, told=("a",))
    for twin in (copy.copy(one), copy.deepcopy(one), dataclasses.replace(one)):
        assert twin == one and twin.told == ("a",) and twin.more == {}
    assert dataclasses.replace(one, z=7) == High(1.0, z=7)


def test_what_the_class_itself_says_stands():
    @OURS
    class Own:
        x: int

        def __repr__(self) -> str:
            return "mine"

        def __eq__(self, other: object) -> bool:
            return True

        def __hash__(self) -> int:
            return 7

    assert (repr(Own(1)), Own(1) == 3, hash(Own(1))) == ("mine", True, 7)


def test_the_signature_is_told_once_an_object_was_made():
    Theirs, Ours = both("Point")
    Ours(1.0)
    told = inspect.signature(Ours)
    assert list(told.parameters) == list(inspect.signature(Theirs).parameters)


@pytest.mark.parametrize("options", [{"init": False}, {"kw_only": True}])
def test_what_is_not_supported_is_refused(options):
    with pytest.raises(TypeError, match="no field with"):

        @OURS
        class Odd:
            x: int = field(default=1, **options)


@pytest.mark.parametrize(
    "said", [{"frozen": False, "slots": True}, {"frozen": True, "slots": False}]
)
def test_only_frozen_with_slots(said):
    with pytest.raises(TypeError, match="standard decorator"):
        dataclass(**said)


def test_they_go_to_another_process_and_back():
    """Unpickled before the class has made an object there."""
    from firmware_protocol.messages import Hello

    sent = pickle.dumps(Hello(base_version=2, token=77))
    code = (
        "import pickle, sys; got = pickle.loads(sys.stdin.buffer.read());"
        "print(got == got, hash(got) != 0, repr(got)); sys.stdout.flush();"
        "sys.stdout.buffer.write(pickle.dumps(got))"
    )
    done = subprocess.run([sys.executable, "-c", code], input=sent, capture_output=True, check=True)
    told, _, back = done.stdout.partition(b"\n")
    assert told.decode() == f"True True {Hello(2, 77)!r}"
    assert pickle.loads(back) == Hello(2, 77)


def test_nothing_is_compiled_until_it_is_needed():
    code = (
        "import builtins, json; seen = []; real = builtins.exec\n"
        "builtins.exec = lambda *a: (seen.append(a[0]), real(*a))[1]\n"
        "from firmware_protocol.records import dataclass\n"
        "@dataclass(frozen=True, slots=True)\n"
        "class A:\n    x: int\n"
        "before = [s for s in seen if isinstance(s, str)]\n"
        "A(1); A(2); after = [s for s in seen if isinstance(s, str)]\n"
        "print(json.dumps([len(before), len(after)]))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    before, after = json.loads(done.stdout)
    assert after - before == 1

"""``winder shelf pair``: two coils of the shelf side by side, the four ways to join them, and what is wrong with a pair."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from winder.commands import typed_answers
from winder.commands.number_option import number
from winder.errors import UserMistake

if TYPE_CHECKING:
    from winder.pair.backwards import Verdict
    from winder.pair.drawing import Drawing
    from winder.pair.finished import FinishedCoil
    from winder.pair.leads import End
    from winder.pair.likeness import Likeness, TurnsOff
    from winder.pair.mounting import Mounting
    from winder.pair.signs import Pole
    from winder.pair.ways import Instrument, PairFigures, Way
    from winder.shelf.model import CoilRecord

IRONS = (
    "none", "magnets", "steel", "steel-plate", "magnet-in-one", "steel-in-one", "steel-in-one-plate",
)  # fmt: skip
HEARS = ("hum", "thin", "hum-thin", "one")
SOURCES = ("transformer", "wire")
WHICH = ("first", "second")
HINT = "for hum, signal and wiring say how they sit: --stacked GAP or --side-by-side APART, and --poles"


def add_options(verb: argparse.ArgumentParser) -> None:
    """Everything that is asked of an instrument, in the pair only."""
    verb.add_argument("first", metavar="A", help="number or name of a coil")
    verb.add_argument("second", metavar="B", help="number or name of the other")
    verb.add_argument(
        "--one-sitting", action="store_true", help="both were read together, with one thermometer"
    )
    place = verb.add_mutually_exclusive_group()
    place.add_argument("--stacked", metavar="GAP", help="one above the other, with this gap")
    place.add_argument(
        "--side-by-side", metavar="APART", help="side by side, this far from axis to axis"
    )
    verb.add_argument("--end-to-end", action="store_true", help="side by side with the short ends")
    verb.add_argument(
        "--own-strings", action="store_true", help="side by side, each under strings of its own"
    )
    verb.add_argument("--near", choices=WHICH, default="first", help="which is nearer the string")
    verb.add_argument("--turned", choices=WHICH, help="this one's top faces away from the string")
    verb.add_argument(
        "--poles", metavar="POLES", help="at the string: north, south, or one for each: north,south"
    )
    verb.add_argument("--iron", choices=IRONS, help="what is in the coils or beside them")
    verb.add_argument("--iron-in", choices=WHICH, default="first", help="where only one has it")
    verb.add_argument("--source", choices=SOURCES, help="what hums nearby")
    verb.add_argument("--away", metavar="LENGTH", help="how far away that is")
    verb.add_argument(
        "--ratio", metavar="N", type=number, help="hum of the first over the second, as measured"
    )
    verb.add_argument("--join", choices=("series", "parallel"), default="series", help="to draw")
    verb.add_argument("--svg", metavar="FILE", type=Path, help="draw the wiring into a new file")
    verb.add_argument("--hears", choices=HEARS, help="what is wrong with the pair as soldered")
    verb.add_argument(
        "--taps",
        metavar="KICKS",
        nargs="?",
        const=typed_answers.ASKED,
        help="of the pair as soldered, up or down for each pole as steel is pulled off: up,down;"
        " alone, it leads you through the test",
    )


def pair_coils(arguments: argparse.Namespace) -> int:
    """Prints likeness, advice, the four ways and the wiring. ``UserMistake`` for a pair that cannot be."""
    from winder.pair.likeness import advice, compare
    from winder.service.shelved import finished_of
    from winder.shelf import Logbook
    from winder.shelf.readings import Readings

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        records = [logbook.coil(name) for name in (arguments.first, arguments.second)]
        readings = [Readings(logbook.book).of(record.row.coil_id) for record in records]
    if records[0].row.coil_id == records[1].row.coil_id:
        raise UserMistake(
            "a coil cannot be a pair with itself", where=arguments.second, remedy="name two coils"
        )
    one, other = (finished_of(*each) for each in zip(records, readings, strict=True))
    likeness = compare(one, other, one_sitting=arguments.one_sitting)
    off = advice(likeness)
    told = alike_lines(likeness, off, [record.row.coil_id for record in records])
    if _asks(arguments):
        if arguments.taps is None:
            print("\n".join([*told, ""]))
            told = []
        typed_answers.ask_mounting(arguments, IRONS, WHICH)
    mounting = mounting_of(arguments)
    kicks = _kicks(arguments, mounting)
    if kicks is not None and mounting is not None:
        words, tapped = _tapped(arguments, mounting, kicks)
        print(json.dumps(tapped, indent=2) if arguments.json else "\n".join(words))
        return 0
    verdict = _verdict(arguments, mounting)
    figures = drawing = None
    if mounting is not None and (verdict is None or arguments.poles is not None):
        figures, drawing = _figured(arguments, likeness, mounting, records)
    if arguments.svg is not None:
        _draw(arguments.svg, drawing)
    if arguments.json:
        print(json.dumps(facts(likeness, off, figures, verdict), indent=2))
        return 0
    print("\n".join([*told, *joined_lines(figures, drawing, verdict)]))
    return 0


def _asks(arguments: argparse.Namespace) -> bool:
    """Nobody said how the pair sits, and somebody is there to be asked."""
    told = arguments.stacked is not None or arguments.side_by_side is not None
    return not told and not arguments.json and typed_answers.somebody_there()


def alike_lines(likeness: Likeness, off: TurnsOff | None, numbers: Sequence[int]) -> list[str]:
    """How alike they are, and what to take off; ``numbers`` of both coils on the shelf."""
    from winder.commands import pair_words

    told = [*pair_words.likeness_lines(likeness), pair_words.off_line(off, likeness)]
    if off is not None and pair_words.is_advised(off):
        told.append(pair_words.how_off_line(off, numbers[off.coil]))
    return told


def joined_lines(
    figures: PairFigures | None, drawing: Drawing | None, verdict: Verdict | None
) -> list[str]:
    """The four ways and the wiring, as far as it is told how they sit; what is wrong with a soldered pair."""
    from winder.commands import pair_words
    from winder.pair.drawing import text_picture

    told: list[str] = []
    if figures is None or drawing is None:
        told += [] if verdict is not None else ["", HINT]
    else:
        told += ["", "against one coil alone:", *pair_words.ways_lines(figures), ""]
        told += [*text_picture(drawing).rstrip("\n").split("\n"), ""]
        told += pair_words.wiring_lines(drawing)
    if verdict is not None:
        told += ["", *pair_words.verdict_lines(verdict)]
    return told


def mounting_of(arguments: argparse.Namespace) -> Mounting | None:
    """How the pair sits; None: not told."""
    from winder.files.dimensions import LENGTH
    from winder.pair.mounting import Beside, Stacked, check_mounting

    mounting: Mounting | None = None
    if arguments.stacked is not None:
        near = WHICH.index(arguments.near)
        mounting = Stacked(_quantity(arguments.stacked, LENGTH, "--stacked"), near)
    elif arguments.side_by_side is not None:
        apart_m = _quantity(arguments.side_by_side, LENGTH, "--side-by-side")
        mounting = Beside(
            apart_m, end_to_end=arguments.end_to_end, own_strings=arguments.own_strings
        )
    elif any(each is not None for each in (arguments.svg, arguments.hears, arguments.taps)):
        raise UserMistake(
            "how do the two coils sit?",
            where="winder shelf pair",
            remedy="add --stacked GAP or --side-by-side APART",
        )
    if mounting is not None:
        check_mounting(mounting)
    return mounting


def _verdict(arguments: argparse.Namespace, mounting: Mounting | None) -> Verdict | None:
    from winder.pair.backwards import Heard, explain

    if arguments.hears is None or mounting is None:
        return None
    heard = (Heard.HUMS_FULL, Heard.QUIET_THIN, Heard.HUMS_THIN, Heard.AS_ONE)
    return explain(heard[HEARS.index(arguments.hears)], stacked=mounting.stacked)


def _kicks(arguments: argparse.Namespace, mounting: Mounting | None) -> tuple[int, int] | None:
    """How the meter jumped at each pole; asked for, with the poles, where nobody said yet."""
    from winder.shelf.readings import KICKS

    if arguments.taps is None or mounting is None:
        return None
    if arguments.hears is not None:
        raise UserMistake(
            "the taps say what is wrong, whatever it sounds like",
            where="--hears",
            remedy="leave --hears out, or --taps",
        )
    if arguments.taps == typed_answers.ASKED:
        asked = typed_answers.ask_taps(stacked=mounting.stacked, poles=arguments.poles)
        arguments.taps, arguments.poles = asked
    first, _, second = (word.strip() for word in arguments.taps.partition(","))
    if first not in KICKS or second not in KICKS:
        raise UserMistake(
            f"'{arguments.taps[:40]}' are not two taps",
            where="--taps",
            remedy="write up or down for each pole, as in --taps up,down",
        )
    return KICKS[first], KICKS[second]


def _tapped(
    arguments: argparse.Namespace, mounting: Mounting, kicks: tuple[int, int]
) -> tuple[list[str], dict[str, Any]]:
    """What two taps and a compass say of the pair, whatever is known of its winding."""
    from winder.commands.pair_words import stack_tap_lines, tap_lines
    from winder.pair.backwards import explain, heard_as, taps

    if mounting.stacked:
        alike = kicks[0] == kicks[1]
        return stack_tap_lines(wound_alike=alike), {"wound_alike": alike}
    made = taps(*kicks, *_poles(arguments))
    verdict = explain(heard_as(made, stacked=False), stacked=False)
    told = {"hum_cancels": made.hum_cancels, "signals_add": made.signals_add}
    return tap_lines(made, verdict), {**told, "verdict": _verdict_facts(verdict)}


def _figured(
    arguments: argparse.Namespace,
    likeness: Likeness,
    mounting: Mounting,
    records: list[CoilRecord],
) -> tuple[PairFigures, Drawing]:
    from winder.pair.drawing import Drawing, Drawn
    from winder.pair.signs import Placed
    from winder.pair.ways import figure_pair

    instrument = _instrument(arguments, mounting)
    figures = figure_pair(likeness, instrument)
    way = figures.ways[0 if arguments.join == "series" else 2]  # of each the quiet one

    def drawn(place: int, finished: FinishedCoil) -> Drawn:
        mounted, pole = instrument.mounted[place], instrument.poles[place]
        placed = Placed(finished.coil.recipe.direction, mounted, pole)
        return Drawn(finished.name, placed, records[place].row.said.colours)

    coils = (drawn(0, likeness.one), drawn(1, likeness.other))
    return figures, Drawing(coils, mounting, way.wiring)


def _instrument(arguments: argparse.Namespace, mounting: Mounting) -> Instrument:
    from winder.coil.outside_field import Source
    from winder.files.dimensions import LENGTH
    from winder.pair.mounting import Iron
    from winder.pair.signs import Mounted
    from winder.pair.ways import Instrument

    poles = _poles(arguments)
    if (arguments.source is None) is not (arguments.away is None):
        raise UserMistake(
            "a source of hum needs its distance, and a distance its source",
            where="--source",
            remedy="add both, as in --source transformer --away '0.5 m'",
        )
    up, down = Mounted.TOP_TO_STRING, Mounted.TOP_AWAY
    return Instrument(
        mounting,
        (down if arguments.turned == "first" else up, down if arguments.turned == "second" else up),
        poles,
        Iron.NOT_TOLD if arguments.iron is None else Iron[arguments.iron.upper().replace("-", "_")],
        WHICH.index(arguments.iron_in),
        None if arguments.source is None else Source(arguments.source),
        0.0 if arguments.away is None else _quantity(arguments.away, LENGTH, "--away"),
        arguments.ratio,
    )


def _poles(arguments: argparse.Namespace) -> tuple[Pole, Pole]:
    """Those at the string."""
    from winder.pair.signs import Pole

    if arguments.poles is None:
        raise UserMistake(
            "which poles face the string?",
            where="--poles",
            remedy="hold a compass at each: the needle's north end is drawn to a south pole; then add --poles north or --poles north,south",
        )
    names = [each.strip() for each in arguments.poles.split(",")]
    if len(names) > 2 or any(each not in ("north", "south") for each in names):
        raise UserMistake(
            f"'{arguments.poles[:40]}' are not poles",
            where="--poles",
            remedy="write north, south, or one for each coil: north,south",
        )
    return Pole(names[0]), Pole(names[-1])


def _draw(file: Path, drawing: Drawing | None) -> None:
    from winder.files.whole_file import write_new_file
    from winder.pair.wiring_svg import wiring_svg

    if file.suffix != ".svg":
        raise UserMistake(
            "the picture is an SVG drawing", where=str(file), remedy="give it a name ending in .svg"
        )
    if drawing is None:
        raise UserMistake(
            "there is no wiring to draw yet", where=str(file), remedy="add --poles as well"
        )
    write_new_file(file, wiring_svg(drawing), "picture")


def _quantity(text: str, dimension: Any, where: str) -> float:
    from winder.files.quantities import QuantityError, read_quantity

    try:
        return read_quantity(text, dimension)
    except QuantityError as wrong:
        raise UserMistake(wrong.what, where=where, remedy=wrong.remedy) from None


# --- for programs ------------------------------------------------------------------------------


def facts(
    likeness: Likeness,
    off: TurnsOff | None,
    figures: PairFigures | None,
    verdict: Verdict | None,
) -> dict[str, Any]:
    """What ``--json`` tells of a pair (``docs/reference/pair.md``)."""
    take_off = None
    if off is not None:
        take_off = {
            "coil": WHICH[off.coil],
            "turns": off.whole,
            "low": off.low,
            "high": off.high,
            "can_tell": off.can_tell,
        }
    return {
        "turns_more": likeness.turns.facts(),
        "ohm_share": None if likeness.ohm_share is None else likeness.ohm_share.facts(),
        "kelvin": None if likeness.kelvin is None else likeness.kelvin.facts(),
        "alike_in_ohms": likeness.alike_in_ohms,
        "turns_area_share": likeness.turns_area_share.facts(),
        "same_spool": likeness.same_spool,
        "surprise": likeness.surprise,
        "take_off": take_off,
        "ways": None if figures is None else [_way(each) for each in figures.ways],
        "verdict": None if verdict is None else _verdict_facts(verdict),
    }


def _way(way: Way) -> dict[str, Any]:
    def ends(of: tuple[End, ...]) -> list[str]:
        return [f"{end.lead.value}{end.coil + 1}" for end in of]

    return {
        "circuit": way.wiring.join.circuit.value,
        "hum_cancels": way.wiring.outcome.hum_cancels,
        "signals_add": way.wiring.outcome.signals_add,
        "hum_db": way.hum.decibel.facts(),
        "signal_db": way.signal.decibel.facts(),
        "thin": way.signal.thin,
        "ohm_20c": way.ohm_20c.facts(),
        "henry": way.henry.facts(),
        "hot": ends(way.wiring.hot),
        "ground": ends(way.wiring.ground),
        "joined": ends(way.wiring.joined),
    }


def _verdict_facts(verdict: Verdict) -> dict[str, Any]:
    return {
        "heard": verdict.heard.value,
        "swaps": [swap.value for swap in verdict.swaps],
        "cure": verdict.cure.value,
        "test": verdict.proof.value,
    }

"""What a person reads of a pair and of a spool: sentences and a table from the values of ``pair`` and ``coil``.

Shared by commands and screens. Names and colours are a person's own words and are printed plain.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from winder.files.dimensions import INDUCTANCE
from winder.files.quantities import show_quantity
from winder.pair.backwards import Cure, Heard, Verdict
from winder.pair.drawing import Drawing, nodes, plain
from winder.pair.leads import End
from winder.pair.likeness import SURPRISE_MAX, By, Likeness, TurnsOff
from winder.pair.signs import Lead, Outcome

if TYPE_CHECKING:
    from winder.coil.bands import Band
    from winder.pair.ways import PairFigures, Way

NAME_LETTERS = 30
FLOOR_DB = -59.9  # what lies at the floor of the figures is not told as a number


def likeness_lines(likeness: Likeness) -> list[str]:
    """How alike two coils are, first against second."""
    one, other = (plain(each.name, NAME_LETTERS) for each in (likeness.one, likeness.other))
    lines = [f"{one} has {_turns_words(likeness.turns)} {other}"]
    share = likeness.ohm_share
    if share is None or likeness.kelvin is None:
        lines.append("measure both coils, preferably in one sitting, to compare their ohms")
    else:
        more = "more" if share.nominal >= 0 else "fewer"
        lines.append(
            f"{100 * abs(share.nominal):.2f} % {more} ohms at 20 C, as much as"
            f" {abs(likeness.kelvin.nominal):.1f} C warmer copper"
        )
        if likeness.alike_in_ohms:
            lines.append("no more than the meter and the thermometer can tell")
    area = likeness.turns_area_share
    lines.append(
        f"turns-area {100 * area.nominal:+.2f} %, between {100 * area.low:+.2f} and"
        f" {100 * area.high:+.2f} %"
    )
    if not likeness.same_spool:
        lines.append(
            "not known to be from one spool: ohms say nothing about how tightly they are wound"
        )
    if abs(likeness.surprise) > SURPRISE_MAX:
        lines.append("these readings do not fit the counts: check turns, wire and both readings")
    return lines


def is_advised(off: TurnsOff) -> bool:
    """Whether it is worth taking anything off: hum hears what no meter tells."""
    return off.whole > 0 and (off.by is By.HUM or off.can_tell)


def how_off_line(off: TurnsOff, number: int) -> str:
    """What to type so that the machine unwinds them under count."""
    return f"under count: winder wind --continue {number} --take-off {off.whole} --port PORT"


def off_line(off: TurnsOff | None, likeness: Likeness) -> str:
    """What to take off, in one sentence."""
    if off is None or not is_advised(off):
        return "leave both as they are: a meter cannot see a difference"
    name = plain((likeness.one, likeness.other)[off.coil].name, NAME_LETTERS)
    low, high = max(off.low, 0.0), max(off.high, 0.0)
    turns = "turn" if off.whole == 1 else "turns"
    return f"take {off.whole} {turns} off {name} (between {low:.0f} and {high:.0f}), then measure again"


def ways_lines(figures: PairFigures) -> list[str]:
    """The four ways as a table of at most 80 columns, decibels against one coil alone."""
    lines = [
        f"{'':24}{'hum, dB':>20}{'signal, dB':>16}{'ohms':>9}{'in air':>11}",
        *(_way_line(way) for way in figures.ways),
    ]
    thin = [way for way in figures.ways if way.signal.thin]
    if thin:
        lines.append("thin: the low notes are nearly gone; the figure is for the lowest")
    if any(way.wiring.outer_layer_hot for way in figures.ways if way.wiring.outcome.hum_cancels):
        lines.append("a finish is hot in one of the quiet ways: cover it well")
    return lines


def _way_line(way: Way) -> str:
    circuit = way.wiring.join.circuit.value
    name = f"{circuit}, {'quiet' if way.wiring.outcome.hum_cancels else 'humming'}"
    name += ", thin" if way.signal.thin else ""
    ohm, henry = _ohms(way.ohm_20c.nominal), show_quantity(way.henry.nominal, INDUCTANCE, 3)
    hum, signal = _decibels(way.hum.decibel), _decibels(way.signal.decibel)
    return f"{name:24}{hum:>20}{signal:>16}{ohm:>9}{henry:>11}"


def _ohms(value: float) -> str:
    return f"{value:.0f}" if value >= 1000 else f"{value:.4g}"


def _decibels(band: Band) -> str:
    if band.high < FLOOR_DB:
        return "below -60"
    low = "-60 or less" if band.low < FLOOR_DB else f"{band.low:+.1f}"
    return f"{low} to {band.high:+.1f}"


def wiring_lines(drawing: Drawing) -> list[str]:
    """Which leads join, which is hot, which goes to ground and shield."""

    def end_words(end: End) -> str:
        coil = drawing.coils[end.coil]
        colour = coil.colour(end.lead)
        side = "start" if end.lead is Lead.START else "finish"
        return f"{side} of {plain(coil.name, NAME_LETTERS)}" + (f" ({colour})" if colour else "")

    words = {
        node.name: " and ".join(end_words(end) for end in node.ends)
        for node in nodes(drawing.wiring)
    }
    lines = [f"solder together: {words['joined']}"] if "joined" in words else []
    return [*lines, f"hot: {words['hot']}", f"ground, cover and plate: {words['ground']}"]


def verdict_lines(verdict: Verdict) -> list[str]:
    """What is behind a sound, what cures it, what proves it."""
    if verdict.heard is Heard.QUIET_FULL:
        return ["this pair is joined correctly"]
    lines = []
    if verdict.swaps:
        causes = "; or ".join(swap.value for swap in verdict.swaps)
        lines.append(f"it may be: {causes}")
    if verdict.two_swaps:
        lines.append("or these are two ordinary coils in the ordinary join")
    if len(verdict.swaps) > 1:
        lines.append("no electrical test tells these apart; one fix works for all")
    what = "do" if verdict.cure is Cure.OHMMETER else "cure"
    return [*lines, f"{what}: {verdict.cure.value}", f"test: {verdict.proof.value}"]


def tap_lines(made: Outcome, verdict: Verdict) -> list[str]:
    """What two taps on a joined pair say, and what cures it."""
    hum = "cancels" if made.hum_cancels else "adds up"
    signals = "add" if made.signals_add else "cancel, so it is thin"
    return [f"as it is soldered, hum {hum} and signals {signals}", *verdict_lines(verdict)]


def stack_tap_lines(*, wound_alike: bool) -> list[str]:
    """Two coils tapped alone on one pole, red at the finish: which leads make the quiet stack."""
    if wound_alike:
        how, series = "run the same way round", "like leads: F with F, or S with S"
        parallel = "F with S, and S with F"
    else:
        how, series = "run opposite ways round", "unlike leads: F with S"
        parallel = "F with F, and S with S"
    return [
        f"as they sit in the stack, both coils {how}",
        f"quiet in series: join {series}",
        f"quiet in parallel: join {parallel}",
    ]


def _turns_words(more: Band) -> str:
    doubt = (more.high - more.low) / 2
    give = f" (give or take {doubt:.0f})" if doubt >= 0.5 else ""
    if round(more.nominal) == 0:
        return f"as many turns as{give}"
    count = abs(more.nominal)
    turns = "turn" if round(count) == 1 else "turns"
    return f"{count:.0f} {turns} {'more' if more.nominal > 0 else 'fewer'} than{give}"

"""The kinds of events that a wind writes into the journal.

The journal is written before anything is sent to the board, so that a wind that was left mid-way
can be told from its events alone. ``counts`` of an event is the board's count of this wind; beside the facts stand
the deeds that it did to the account (``account.py``), by which the same account is made again.

| kind | when | facts |
|---|---|---|
| link | the board was found, fell silent, came back | board, boot, settings_hash; board_number, other_number |
| set up | an item of the list before the wind is done, or the whole of it | item, by |
| direction | which way round the bobbin is declared to be mounted; what the sensor saw | top, turning, by, sensor |
| opened | the wind is open on the board | wind, boot, board_number |
| plan | the plan is loaded on the board; another target was adopted | generation, legs, target; target_turns, by |
| intent | a person asked; committed before the request is sent | intent, by, value |
| started | the board winds | leg |
| leg | another leg began | leg |
| slowing | the board is on the way to rest | reason |
| at rest | the board came to rest within the wind | reason, overrun, guide_um, rightward |
| count | while moving, at least twice a second | leg, guide_um, rightward |
| doubt | the count or the board's word is doubted | |
| settled | a person settled the count | |
| alarm | the board did what it was not told, or the alarm was acknowledged | |
| trip | a protective stop | trip |
| cleared | a trip was cleared | trip |
| refused | the board said no | command, verdict, detail |
| note | a person's remark | by |
| measured | a person measured something of the coil | ohm, at_c, reading, learnt, by |
| wire | the wire broke, was joined or found whole | by |
| turns off | turns came off: by hand on a person's word, or by the motor | by, turns |
| complete | the plan's end was reached, at rest | overrun |
| moved | taken over from an older logbook | |
| ended | the run is over; nothing follows | how: complete, here, left, lost |
"""

from __future__ import annotations

KINDS = (
    "link",
    "set up",
    "direction",
    "opened",
    "plan",
    "intent",
    "started",
    "leg",
    "slowing",
    "at rest",
    "count",
    "doubt",
    "settled",
    "alarm",
    "trip",
    "cleared",
    "refused",
    "note",
    "measured",
    "wire",
    "turns off",
    "complete",
    "moved",
    "ended",
)

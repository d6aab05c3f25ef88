"""The group PEDAL: winding by a foot pedal, once a person at the host asked for it.

Pressing goes, releasing slows to rest. The two messages; what a board makes of them is in ``device_pedal``.
"""

from typing import Annotated

from .records import dataclass
from .vocabulary import PedalFlag
from .wire import U8, U16, U32, Group, Sender, message


@message(0x50, Group.PEDAL, Sender.HOST, numbered=True)
@dataclass(frozen=True, slots=True)
class ArmPedal:
    """From now on the pedal winds by the loaded plan while it is pressed. Moves nothing by itself."""

    token: Annotated[int, U32, "", "the session's token"]
    boot: Annotated[int, U16, "", "boot number the host believes in"]
    wind: Annotated[int, U32, "", "wind number the host believes in"]
    revision: Annotated[int, U16, "", "board's revision the host believes in"]
    generation: Annotated[int, U8, "", "generation of the plan, 1 to 255, chosen by the host"]


@message(0xD0, Group.PEDAL, Sender.BOARD)
@dataclass(frozen=True, slots=True)
class PedalStatus:
    """What the pedal is and does, behind every status; asked for by nobody."""

    flags: Annotated[int, U8, "bits", "what is so at this moment", PedalFlag]
    revision: Annotated[int, U16, "", "as in the status before it"]

"""What must have been read before the first start of a session."""

from __future__ import annotations

TITLE = "Before the first start"

# Common practice at small winding machines; no source is claimed and none replaces the maker's own.
CAUTIONS = (
    "A turning spindle pulls in what touches it. Tie back hair; no loose sleeves, cords, "
    "rings or thread gloves near it.",
    "Fine wire snaps and its end whips. Wear eye protection and keep your face out of its plane.",
    "A hard-wired stop that takes the power from the motor is within your reach. "
    "A key on this computer is not one: it goes through software and a cable.",
    "The bobbin sits firmly, the start of the wire is secured, the guard is in its place.",
    "Do not touch wire or bobbin while it turns, and do not leave it alone.",
    "Take the power away before you work on the machine.",
    "Follow the instructions of the machine's maker and the safety rules of your place.",
)

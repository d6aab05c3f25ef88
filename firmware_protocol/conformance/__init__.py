"""Does a board keep to the specification? Clause by clause, over a link and by its clock alone.

``judge`` (in ``judging``) asks a board everything that can be asked without moving it, and, where a person
agrees, a few slow moves. Each clause has the number of the section of ``docs/protocol/specification.md`` that
it stands in, and a number of its own behind the point.
"""

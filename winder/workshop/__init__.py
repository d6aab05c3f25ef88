"""The one room that knows every other: it joins them into winds and rehearsals."""

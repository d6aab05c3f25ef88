"""Two coils as one: signs, joins, leads, hum left, signal, how alike they are and what to do about it."""

"""Building a new bar: sequence, rows, drawing to scale, cutting list."""

"""Building a new bar: its ribbons, the drawing to scale and the cutting list. The sequence comes from precedence."""

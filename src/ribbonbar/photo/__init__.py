"""From a picture file to flat strips: opening it, finding the bar, flattening it, splitting rows."""

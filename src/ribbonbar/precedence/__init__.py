"""The order of wear: which award must stand before which, and the least set of ribbons to move."""

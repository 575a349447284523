"""A small sound specification that tests break in one place at a time."""

SMALL = """\
format = "ribbon-spec/1"

[authority]
id = "calder"
title = "Calder (invented)"
ribbon_width_mm = 32.0
ribbon_height_mm = 10.0

[[source]]
id = "calder-1"
title = "Calder dress regulations, part 3 (invented)"

[colours]
navy = { srgb = "#1b2440", certainty = "memory" }
white = { srgb = "#f4f2ea", certainty = "stated", source = "calder-1" }
red = { lab = [42.0, 58.0, 34.0], certainty = "derived", source = "calder-1" }

[[award]]
id = "valour-cross"
name = "Valour Cross"

  [[award.ribbon]]
  id = "standard"
  width_mm = 38.0
  stripes = [["red", 38]]
  certainty = "stated"
  source = "calder-1"

[[award]]
id = "harbour-star"
name = "Harbour Star"
abbreviation = "HS"
earned = { from = 1951-03-01, to = 1954-10-31 }
emblems = [ { kind = "rosette", metal = "silver", meaning = "clasp held" } ]

  [[award.ribbon]]
  id = "standard"
  worn = { from = 1951-03-01 }
  division = "military"
  stripes = [["navy", 10], ["white", 2], ["red>white", 8], ["white", 2], ["navy", 10]]
  certainty = "stated"
  source = "calder-1"

[[award]]
id = "strait-medal"
name = "Strait Medal"

  [[award.ribbon]]
  id = "standard"
  diagonal = { stripes = [["white", 3.2], ["navy", 3.2]], angle = 45 }
  certainty = "memory"

[[order_of_wear]]
id = "forces"
title = "Order of wear, Calder forces"
ribbons_per_row = 4
short_row = "top"
source = "calder-1"

  [[order_of_wear.group]]
  id = "gallantry"
  title = "Gallantry decorations"
  sequence = "listed"
  awards = ["valour-cross"]

  [[order_of_wear.group]]
  id = "campaign"
  title = "Campaign medals"
  sequence = "by-date"
  awards = ["harbour-star", "strait-medal"]

[[rule]]
kind = "not-together"
awards = ["harbour-star", "strait-medal"]
because = "the second is a clasp to the first"
source = "calder-1"
"""


def line_of(text: str, part: str) -> int:
    """The line, from 1, on which a part of the text stands for the first time."""
    return text.count("\n", 0, text.index(part)) + 1

"""An invented authority with what a tailor meets: several patterns, wide ribbons, emblems, an unknown pattern."""

from pathlib import Path

from ribbonbar.precedence.model import Held, Record
from ribbonbar.spec.model import Specification
from ribbonbar.spec.reader import read_specification

SPEC = """
format = "ribbon-spec/1"
[authority]
id = "calder"
title = "Calder (invented)"
ribbon_width_mm = 32.0
ribbon_height_mm = 10.0
[[source]]
id = "calder-1"
title = "Calder register (invented)"
[colours]
navy = { srgb = "#1b2440", certainty = "memory" }
white = { srgb = "#f4f2ea", certainty = "memory" }
red = { srgb = "#b0202c", certainty = "memory" }
green = { srgb = "#277443", certainty = "memory" }
violet = { srgb = "#744e99", certainty = "memory" }
gold = { srgb = "#c99a2e", certainty = "memory" }
[[award]]
id = "valour-cross"
name = "Valour Cross"
abbreviation = "VC"
  [[award.ribbon]]
  id = "standard"
  certainty = "memory"
  width_mm = 38.0
  stripes = [["violet", 38]]
[[award]]
id = "order-of-the-beacon"
name = "Order of the Beacon"
emblems = [ { kind = "rosette", metal = "gold", meaning = "officer" } ]
  [[award.ribbon]]
  id = "military"
  certainty = "memory"
  division = "military"
  stripes = [["red", 14], ["white", 4], ["red", 14]]
  [[award.ribbon]]
  id = "civil"
  certainty = "memory"
  division = "civil"
  stripes = [["red", 32]]
[[award]]
id = "sea-gallantry-medal"
name = "Sea Gallantry Medal"
  [[award.ribbon]]
  id = "first"
  certainty = "memory"
  worn = { from = 1900-01-01, to = 1935-12-31 }
  stripes = [["navy", 16], ["white", 16]]
  [[award.ribbon]]
  id = "second"
  certainty = "memory"
  worn = { from = 1936-01-01 }
  diagonal = { stripes = [["white", 3.2], ["navy", 3.2]], angle = 45 }
[[award]]
id = "harbour-star"
name = "Harbour Star"
earned = { from = 1951-03-01, to = 1954-10-31 }
emblems = [ { kind = "rosette", metal = "silver", meaning = "clasp held" }, { kind = "oak leaf", metal = "bronze" } ]
  [[award.ribbon]]
  id = "standard"
  certainty = "memory"
  stripes = [["navy", 10], ["white", 2], ["red>white", 8], ["white", 2], ["navy", 10]]
[[award]]
id = "strait-medal"
name = "Strait Medal"
emblems = [ { kind = "numeral" }, { kind = "star", metal = "silver" } ]
  [[award.ribbon]]
  id = "standard"
  certainty = "memory"
  stripes = [["green", 12], ["gold", 8], ["green", 12]]
[[award]]
id = "jubilee-medal"
name = "Jubilee Medal"
  [[award.ribbon]]
  id = "standard"
  certainty = "memory"
  unmatched = "embroidered wreath, pattern not published"
[[award]]
id = "long-service-medal"
name = "Long Service and Good Conduct Medal of the Harbour Police"
emblems = [ { kind = "numeral 8", metal = "silver" } ]
  [[award.ribbon]]
  id = "standard"
  certainty = "memory"
  diagonal = { stripes = [["gold", 4], ["green", 2]], angle = -45 }
[[order_of_wear]]
id = "calder-forces"
title = "Order of wear, Calder forces"
ribbons_per_row = 4
short_row = "top"
source = "calder-1"
  [[order_of_wear.group]]
  id = "gallantry"
  title = "Gallantry decorations"
  sequence = "listed"
  awards = ["valour-cross", "order-of-the-beacon", "sea-gallantry-medal"]
  [[order_of_wear.group]]
  id = "campaign"
  title = "Campaign medals"
  sequence = "by-date"
  awards = ["harbour-star", "strait-medal"]
  [[order_of_wear.group]]
  id = "later"
  title = "Jubilee and long service"
  sequence = "listed"
  awards = ["jubilee-medal", "long-service-medal"]
"""

ALL = (
    "calder/valour-cross",
    "calder/order-of-the-beacon",
    "calder/sea-gallantry-medal",
    "calder/harbour-star",
    "calder/strait-medal",
    "calder/jubilee-medal",
    "calder/long-service-medal",
)


def specification(folder: Path) -> Specification:
    """The authority's specification, read from a file written to the folder."""
    path = folder / "calder.toml"
    path.write_text(SPEC)
    return read_specification([path])


def record_of(*held: Held, reference: str = "job 1042") -> Record:
    return Record(reference, "calder/calder-forces", (), held)

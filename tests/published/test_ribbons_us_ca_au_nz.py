"""The ribbons and orders of wear of the United States, Canada, Australia and New Zealand against published texts.

Every value here was written down from the text named beside it, in that text's own units and words, and not from the
specification files. A pattern reads ``"1/16 Old Glory Red, 3/32 White, …"`` from the viewer's left.
"""

from datetime import date
from fractions import Fraction

import pytest

from ribbonbar.spec.reader import read_specification, shipped_specs

INCH_MM = 25.4
SHARE = 0.002
"""How far a stripe's share of the ribbon may be off the published one: rounding to three decimals, nothing else."""


@pytest.fixture(scope="module")
def spec():
    return read_specification([shipped_specs()])


def ribbon_of(spec, name):
    """``"us/award"``: its only ribbon or the first; ``"us/award#id"``: the one with this id."""
    award, _, own = name.partition("#")
    ribbons = spec.awards[award].ribbons
    return next(r for r in ribbons if r.id == own) if own else ribbons[0]


def read_words(text):
    """``"1/8 Crimson, 1 1/8 Purple"`` as (colour name, width) pairs."""
    pairs = []
    for part in text.split(","):
        numbers = [word for word in part.split() if word[0].isdigit()]
        words = [word for word in part.split() if not word[0].isdigit()]
        pairs.append(("-".join(words).lower(), float(sum(map(Fraction, numbers)))))
    return pairs


def mirrored(half):
    """The published half and centre, and the half again from the centre outwards."""
    parts = [part.strip() for part in half.split(",")]
    return ", ".join(parts + parts[-2::-1])


# US Army Institute of Heraldry, catalogue of decorations and medals (tioh.army.mil/Catalog), and Code of Federal
# Regulations, title 32, part 578 (2008): the entry of the award's own name. Widths in inches, of 1 3/8 in.
INCHES = [
    # CFR 578.10
    ("us/distinguished-service-cross", mirrored("1/8 Old Glory Red, 1/16 White, 1 Imperial Blue")),
    # Heraldry, Silver Star
    (
        "us/silver-star",
        mirrored("3/32 Ultramarine Blue, 3/64 White, 7/32 Ultramarine Blue, 7/32 White, 7/32 Old Glory Red"),
    ),
    # Heraldry, Bronze Star Medal
    ("us/bronze-star-medal", mirrored("1/32 White, 9/16 Scarlet, 1/32 White, 1/8 Ultramarine Blue")),
    # Heraldry, Purple Heart
    ("us/purple-heart", "1/8 White, 1 1/8 Purple, 1/8 White"),
    # Heraldry, Meritorious Service Medal
    ("us/meritorious-service-medal", mirrored("1/8 Crimson, 1/4 White, 5/8 Crimson")),
    # Heraldry, Air Medal
    ("us/air-medal", mirrored("1/8 Ultramarine Blue, 1/4 Golden Orange, 5/8 Ultramarine Blue")),
    # Heraldry, Joint Service Commendation Medal
    (
        "us/joint-service-commendation-medal",
        mirrored("1/4 Bluebird, 1/8 White, 3/32 Myrtle Green, 1/8 White, 3/16 Myrtle Green"),
    ),
    # Heraldry, Army Commendation Medal: five white stripes of 1/32 in parted by 1/16 in of green
    (
        "us/army-commendation-medal",
        "3/32 White, 25/64 Myrtle Green, 1/32 White, 1/16 Myrtle Green, 1/32 White, 1/16 Myrtle Green, 1/32 White, "
        "1/16 Myrtle Green, 1/32 White, 1/16 Myrtle Green, 1/32 White, 25/64 Myrtle Green, 3/32 White",
    ),
    # Heraldry, Defense Superior Service Medal
    (
        "us/defense-superior-service-medal",
        mirrored("3/16 Golden Yellow, 1/4 Bluebird, 3/16 White, 1/8 Scarlet"),
    ),
    # Heraldry, Prisoner of War Medal
    (
        "us/prisoner-of-war-medal",
        mirrored("1/16 Old Glory Red, 3/32 White, 1/16 Old Glory Blue, 1/8 White, 11/16 Black"),
    ),
    # Heraldry, Army Reserve Components Achievement Medal
    (
        "us/army-reserve-components-achievement-medal",
        mirrored("5/16 Old Gold, 1/8 Ultramarine Blue, 1/16 White, 3/8 Scarlet"),
    ),
    # Heraldry, Mexican Border Service Medal; the medal of 2025 has the same ribbon
    ("us/mexican-border-service-medal", "7/16 Emerald, 1/2 Golden Yellow, 7/16 Emerald"),
    ("us/mexican-border-defense-medal", "7/16 Emerald, 1/2 Golden Yellow, 7/16 Emerald"),
    # CFR 578.52: the triparted stripes are 1/8 in together
    (
        "us/american-defense-service-medal",
        "3/16 Golden Yellow, 1/24 Old Glory Blue, 1/24 White, 1/24 Scarlet, 3/4 Golden Yellow, 1/24 Scarlet, "
        "1/24 White, 1/24 Old Glory Blue, 3/16 Golden Yellow",
    ),
    # Heraldry, Asiatic-Pacific Campaign Medal: blue of the centre toward the viewer's left
    (
        "us/asiatic-pacific-campaign-medal",
        "3/16 Golden Orange, 1/16 White, 1/16 Scarlet, 1/16 White, 1/4 Golden Orange, 1/24 Old Glory Blue, "
        "1/24 White, 1/24 Scarlet, 1/4 Golden Orange, 1/16 White, 1/16 Scarlet, 1/16 White, 3/16 Golden Orange",
    ),
    # Heraldry, European-African-Middle Eastern Campaign Medal: Italy's colours left, Germany's right
    (
        "us/european-african-middle-eastern-campaign-medal",
        "3/16 Brown, 1/16 Irish Green, 1/16 White, 1/16 Scarlet, 1/4 Irish Green, 1/24 Old Glory Blue, 1/24 White, "
        "1/24 Scarlet, 1/4 Irish Green, 1/16 White, 1/16 Black, 1/16 White, 3/16 Brown",
    ),
    # Heraldry, Army of Occupation Medal; it covers the Navy medal too
    ("us/army-of-occupation-medal", "3/16 White, 1/2 Black, 1/2 Scarlet, 3/16 White"),
    ("us/navy-occupation-service-medal", "3/16 White, 1/2 Black, 1/2 Scarlet, 3/16 White"),
    # Heraldry, Medal for Humane Action; CFR 578.48a
    (
        "us/medal-for-humane-action",
        mirrored("9/32 Black, 1/16 White, 9/32 Teal Blue, 3/64 White, 1/32 Scarlet"),
    ),
    # Heraldry, National Defense Service Medal
    (
        "us/national-defense-service-medal",
        mirrored("7/16 Scarlet, 1/32 White, 1/32 Old Glory Blue, 1/32 White, 1/32 Scarlet, 1/4 Golden Yellow"),
    ),
    # Heraldry, Korean Service Medal
    ("us/korean-service-medal", mirrored("1/32 White, 19/32 Bluebird, 1/8 White")),
    # Heraldry, Armed Forces Expeditionary Medal: blue, white, scarlet in the centre from the viewer's left
    (
        "us/armed-forces-expeditionary-medal",
        "3/32 Green, 3/32 Golden Yellow, 3/32 Spicebrown, 3/32 Black, 7/32 Bluebird, 1/16 Ultramarine Blue, "
        "1/16 White, 1/16 Scarlet, 7/32 Bluebird, 3/32 Black, 3/32 Spicebrown, 3/32 Golden Yellow, 3/32 Green",
    ),
    # Heraldry, Vietnam Service Medal
    (
        "us/vietnam-service-medal",
        mirrored(
            "1/8 Primitive Green, 5/16 Air Force Yellow, 1/16 Old Glory Red, 5/32 Air Force Yellow, 1/16 Old Glory Red"
        ),
    ),
    # US Army veteran medals site, Iraq Campaign Medal
    (
        "us/iraq-campaign-medal",
        mirrored("5/32 Scarlet, 1/16 White, 1/32 Green, 1/16 White, 5/32 Black, 7/16 Chamois"),
    ),
    # Heraldry, Global War on Terrorism Service Medal
    (
        "us/global-war-on-terrorism-service-medal",
        mirrored(
            "5/32 Old Glory Blue, 1/8 Golden Yellow, 1/8 Scarlet, 1/16 Old Glory Blue, 1/16 White, 5/16 Old Glory Blue"
        ),
    ),
    # Heraldry, Korea Defense Service Medal
    (
        "us/korea-defense-service-medal",
        mirrored("1/4 Green, 1/16 White, 3/32 Green, 1/16 Golden Yellow, 3/32 Green, 1/4 Ultramarine Blue"),
    ),
    # Heraldry, NCO Professional Development Ribbon (its yellow is cable 67108, golden orange)
    (
        "us/nco-professional-development-ribbon",
        mirrored("3/16 Green, 1/8 Golden Orange, 3/16 Green, 1/16 Golden Orange, 1/4 Flag Blue"),
    ),
    # Heraldry, Overseas Service Ribbon
    (
        "us/army-overseas-service-ribbon",
        mirrored("3/16 Flag Blue, 5/16 Grotto Blue, 1/16 Golden Yellow, 1/4 Brick Red"),
    ),
    # Wikipedia, Air Force Special Duty Ribbon: "symmetrically striped"
    (
        "us/air-force-special-duty-ribbon",
        mirrored(
            "1/16 Graphite Blue, 1/16 Silver Gray, 3/16 Ultramarine Blue, 1/16 Silver Gray, 1/16 Scarlet, "
            "3/16 White, 1/8 Ultramarine Blue"
        ),
    ),
    # Heraldry text as reproduced by a squadron's veterans (3how12-11acr.tripod.com/id53.html), Good Conduct Medal
    (
        "us/army-good-conduct-medal",
        mirrored(
            "1/16 Soldier Red, 1/16 White, 1/16 Soldier Red, 1/16 White, 1/16 Soldier Red, 1/16 White, 5/8 Soldier Red"
        ),
    ),
    # Wikipedia, Presidential Unit Citation (South Korea): the stripes of the edges; the white is what they leave
    (
        "us/korean-presidential-unit-citation",
        mirrored(
            "13/64 Hunter Green, 1/64 White, 1/64 Old Glory Red, 1/64 White, 1/64 Old Glory Red, 1/64 White, "
            "1/64 Hunter Green, 25/32 White"
        ),
    ),
]

# Widths in millimetres, of the ribbon width given after the pattern.
MILLIMETRES = [
    # Veterans Affairs Canada, Companion of the Order of Canada; one ribbon for the grades
    ("ca/order-of-canada-companion", "9 Red, 20 White, 9 Red", 38),
    ("ca/order-of-canada-member", "9 Red, 20 White, 9 Red", 38),
    # National Defence medals chart, Star of Courage: blue stripes of 5 mm, 2 mm in from each edge
    ("ca/star-of-courage", mirrored("2 Light Crimson, 5 Blue, 18 Light Crimson"), 32),
    # Governor General, Sacrifice Medal
    ("ca/sacrifice-medal", mirrored("5 Red, 1 White, 5 Red, 10 Black"), 32),
    # Governor General, Canadian Volunteer Service Medal for Korea
    (
        "ca/canadian-volunteer-service-medal-for-korea",
        mirrored("7 Un Blue, 6 Yellow, 2 Red, 2 White"),
        32,
    ),
    # PC 1991-860: air force blue at the edge, navy beside the sand
    (
        "ca/gulf-and-kuwait-medal",
        mirrored("5 Air Force Blue, 2 Scarlet, 5 Navy Blue, 8 Sand"),
        32,
    ),
    # PC 1996-1982: sand, navy, scarlet, air force blue, sand from left to right
    (
        "ca/somalia-medal",
        "5 Un Blue, 475/100 White, 5/2 Sand, 5/2 Navy Blue, 5/2 Scarlet, 5/2 Air Force Blue, 5/2 Sand, "
        "475/100 White, 5 Un Blue",
        32,
    ),
    # Veterans Affairs Canada, Special Service Medal
    ("ca/special-service-medal", mirrored("5 Red, 5 White, 12 Dark Green"), 32),
    # Bravery Decorations Determination (C2010Q00061): 32 mm, centre 16 mm
    ("au/cross-of-valour", "8 Magenta, 16 Blood Red, 8 Magenta", 32),
    # National Emergency Medal Determination: seven gold stripes of 2 mm, six green of 1 mm, green edges of 6 mm
    (
        "au/national-emergency-medal",
        "6 Eucalyptus Green, " + "2 Gold, 1 Eucalyptus Green, " * 6 + "2 Gold, 6 Eucalyptus Green",
        32,
    ),
    # Wikipedia, Pingat Jasa Malaysia: 35 mm
    ("au/pingat-jasa-malaysia", mirrored("9/2 Yellow, 7 Blue, 12 Red"), 35),
    # Birkenhead RSA, East Timor Medal (from the Royal Warrant): white, black, red, green centre
    ("nz/east-timor-medal", mirrored("5 White, 4 Black, 2 Red, 10 Green"), 32),
]

# Laws and pages that give the sequence of the colours and no widths.
SEQUENCES = [
    # A ribbon seller's page on the Coast Guard Sea Service Ribbon: from the centre white, light blue, dark blue,
    # yellow, red, black
    (
        "us/coast-guard-sea-service-ribbon",
        "black old-glory-red golden-yellow old-glory-blue bluebird white bluebird old-glory-blue golden-yellow "
        "old-glory-red black",
    ),
    # Royal Warrant SR 1981/287: crimson, in the centre narrow stripes of green, blue and green; 32 mm
    ("nz/new-zealand-prison-service-medal", "crimson green blue green crimson"),
    # Royal Warrant SR 1985/91: crimson, in the centre a narrow stripe of green; 32 mm
    ("nz/new-zealand-meritorious-service-medal", "crimson green crimson"),
    # Royal Warrant SR 1992/101: dark blue, light red centre, narrow central black (warlike) or white (non-warlike)
    ("nz/new-zealand-general-service-medal-1992-warlike", "dark-blue light-red black light-red dark-blue"),
    ("nz/new-zealand-general-service-medal-1992-non-warlike", "dark-blue light-red white light-red dark-blue"),
    # Regulations SR 2004/312: broad red centre; each side narrow white, broad light green, narrow black
    (
        "nz/new-zealand-general-service-medal-2002-iraq-2003",
        "black light-green white red white light-green black",
    ),
    # Regulations SR 2007/339: red, yellow, black, white, black, yellow, red
    ("nz/new-zealand-general-service-medal-2002-timor-leste", "red yellow black white black yellow red"),
    # Royal Warrant SR 2008/23: dark blue, yellow, light blue, yellow, dark blue
    ("nz/new-zealand-customs-service-medal", "dark-blue yellow light-blue yellow dark-blue"),
    # Public Service Commission, Public Service Day awards: the ribbon of the Imperial Service Order (crimson, blue,
    # crimson) with narrow white edges
    ("nz/new-zealand-public-service-medal", "white crimson dark-blue crimson white"),
    # Wikipedia, New Zealand Bravery Decoration: seven equal stripes
    ("nz/new-zealand-bravery-decoration", "bright-blue red-ochre " * 3 + "bright-blue"),
    # Wikipedia, New Zealand Defence Service Medal: dark blue, red and light blue parted by light green
    ("nz/new-zealand-defence-service-medal", "dark-blue light-green crimson light-green light-blue"),
    # PM&C, Australia Service Medal 1939-1945: khaki, red each side, one edge dark blue, the other light blue
    ("au/australia-service-medal-1939-45", "dark-blue red khaki red light-blue"),
    # PM&C, Australian Service Medal: from the centre brown, dark green, light green, gold, silver-green
    (
        "au/australian-service-medal",
        "silver-green gold light-green dark-green brown dark-green light-green gold silver-green",
    ),
    # Department of Defence, Anniversary of National Service: from the centre yellow, dark blue, white, green, light
    # blue, ochre
    (
        "au/anniversary-of-national-service-1951-1972-medal",
        "ochre light-blue green white dark-blue yellow dark-blue white green light-blue ochre",
    ),
    # Peace Officer Exemplary Service Medal Regulations, section 2
    ("ca/peace-officer-exemplary-service-medal", "dark-blue light-blue gold green gold light-blue dark-blue"),
    # Reference page, Combat Action Ribbon: dark blue border left, red right; red, white and blue in the centre of gold
    ("us/combat-action-ribbon", "navy-blue old-gold apple-red white navy-blue old-gold apple-red"),
    # Wikipedia, Merchant Marine Distinguished Service Medal: blue, white, red, white, blue
    (
        "us/merchant-marine-distinguished-service-medal",
        "old-glory-blue white old-glory-red white old-glory-blue",
    ),
    # Code of Federal Regulations, title 33, 13.01-25 and 13.01-30
    ("us/gold-lifesaving-medal", "scarlet white old-gold white scarlet"),
    ("us/silver-lifesaving-medal", "imperial-blue white silver-gray white imperial-blue"),
]


def colours(ribbon):
    return [s.start.name if s.start == s.end else f"{s.start.name}>{s.end.name}" for s in ribbon.stripes]


def shares(ribbon):
    total = sum(s.width for s in ribbon.stripes)
    return [s.width / total for s in ribbon.stripes]


@pytest.mark.parametrize(("name", "words"), INCHES, ids=[name for name, _ in INCHES])
def test_a_ribbon_described_in_inches_is_woven_to_the_published_fraction(spec, name, words):
    """Colours and widths of an American ribbon are those of the published description."""
    ribbon = ribbon_of(spec, name)
    published = read_words(words)
    total = sum(width for _, width in published)
    assert total == pytest.approx(1.375, abs=1e-9), "the text written down here does not add up to 1 3/8 in"
    assert colours(ribbon) == [colour for colour, _ in published]
    assert shares(ribbon) == pytest.approx([width / total for _, width in published], abs=SHARE)
    assert ribbon.certainty == "stated"


@pytest.mark.parametrize(("name", "words", "width"), MILLIMETRES, ids=[name for name, _, _ in MILLIMETRES])
def test_a_ribbon_described_in_millimetres_has_the_published_stripes_and_width(spec, name, words, width):
    """Colours, widths and the ribbon's own width are those of the published description."""
    ribbon = ribbon_of(spec, name)
    published = read_words(words)
    assert sum(part for _, part in published) == pytest.approx(width)
    assert ribbon.width_mm == width
    assert colours(ribbon) == [colour for colour, _ in published]
    assert shares(ribbon) == pytest.approx([part / width for _, part in published], abs=SHARE)


@pytest.mark.parametrize(("name", "sequence"), SEQUENCES, ids=[name for name, _ in SEQUENCES])
def test_a_ribbon_described_in_words_has_the_published_sequence(spec, name, sequence):
    """Where a law names colours without widths, the stripes stand in that sequence, and are not called stated."""
    ribbon = ribbon_of(spec, name)
    assert colours(ribbon) == sequence.split()
    equal_or_given = len({round(share, 3) for share in shares(ribbon)}) == 1 or name.startswith("us/")
    assert equal_or_given or ribbon.certainty != "stated"


def test_the_canadian_volunteer_ribbon_keeps_the_fractions_of_its_order(spec):
    """SI/94-62, section 4: 1 1/4 in; green and scarlet 3/16 in each from either edge, royal blue between."""
    ribbon = ribbon_of(spec, "ca/canadian-volunteer-service-medal")
    assert colours(ribbon) == ["dark-green", "scarlet", "royal-blue", "scarlet", "dark-green"]
    assert shares(ribbon) == pytest.approx([0.15, 0.15, 0.4, 0.15, 0.15])


def test_the_vietnam_ribbon_stands_dark_blue_left(spec):
    """Royal Warrant of 1968 as quoted by Birkenhead RSA: dark blue left, light blue right, 1/4 in each; red 1/8 in."""
    ribbon = ribbon_of(spec, "au/vietnam-medal")
    names, parts = colours(ribbon), [s.width / 24 for s in ribbon.stripes]
    assert (names[0], names[-1]) == ("dark-blue", "light-blue")
    assert (parts[0], parts[1], parts[-2], parts[-1]) == pytest.approx((1 / 4, 1 / 8, 1 / 8, 1 / 4))
    assert names[3:8] == ["light-red", "yellow", "light-red", "yellow", "light-red"]
    assert sum(parts[3:8]) == pytest.approx(1 / 6)
    assert ribbon.width_mm == pytest.approx(1.25 * INCH_MM)


def test_nominal_sizes_are_the_published_ones(spec):
    """AR 670-1, chapter 28: ribbons 1 3/8 in wide and 3/8 in high; C2017G00965: the Victoria Cross bar is 41 mm."""
    assert spec.authorities["us"].ribbon_width_mm == pytest.approx(1.375 * INCH_MM)
    assert spec.authorities["us"].ribbon_height_mm == pytest.approx(0.375 * INCH_MM)
    assert ribbon_of(spec, "au/victoria-cross-for-australia").width_mm == 41
    assert spec.authorities["au"].ribbon_width_mm == 32


def test_flying_and_conspicuous_service_ribbons_are_diagonal(spec):
    """Heraldry, Air Force Combat Action Medal: scarlet, Air Force yellow stripes bend sinister, which rises from the
    viewer's lower left; Wikipedia, Conspicuous Service Cross: diagonal stripes of 6 mm."""
    combat = ribbon_of(spec, "us/air-force-combat-action-medal")
    assert (combat.shape, combat.angle) == ("diagonal", 45)
    assert colours(combat) == ["scarlet", "air-force-yellow"]
    cross = ribbon_of(spec, "au/conspicuous-service-cross")
    assert cross.shape == "diagonal"
    assert [(s.start.name, s.width) for s in cross.stripes] == [("bush-green", 6), ("sandy-gold", 6)]


def test_horizontal_ribbons_are_bands(spec):
    """Wikipedia, Presidential Unit Citation: blue above gold above red; Heraldry, Army Reserve Components Overseas
    Training Ribbon: a 3/32 in red line along the bar between 3/64 in of white."""
    navy = ribbon_of(spec, "us/navy-presidential-unit-citation")
    assert (navy.shape, colours(navy)) == ("bands", ["navy-blue", "golden-yellow", "scarlet"])
    army = ribbon_of(spec, "us/army-reserve-components-overseas-training-ribbon")
    assert army.shape == "bands"
    assert [s.width for s in army.stripes][1:4] == pytest.approx([3, 6, 3])


def test_unit_awards_of_the_army_are_framed(spec):
    """Heraldry, Army Meritorious Unit Commendation: scarlet in a gold frame; the Navy citation has none."""
    commendation = ribbon_of(spec, "us/army-meritorious-unit-commendation")
    assert colours(commendation) == ["scarlet"]
    assert commendation.frame is not None
    assert ribbon_of(spec, "us/navy-unit-commendation").frame is None


MIRRORED = [
    # "symmetrically striped": Wikipedia, Air Force Special Duty Ribbon; the others: one half and the centre published
    "us/air-force-special-duty-ribbon",
    "us/silver-star",
    "us/korea-defense-service-medal",
    "us/world-war-ii-victory-medal",
    "us/coast-guard-arctic-service-medal",
    "ca/emergency-medical-services-exemplary-service-medal",
    "ca/gulf-and-kuwait-medal",
    "au/australian-active-service-medal",
    "au/defence-long-service-medal",
    "nz/new-zealand-armed-forces-award",
    "nz/new-zealand-special-service-medal-asian-tsunami",
]
ONE_WAY_ROUND = [
    # Heraldry, Army of Occupation Medal; Civil War Campaign Medal; Kosovo; Philippine citation: blue, white, red
    "us/army-of-occupation-medal",
    "us/civil-war-campaign-medal",
    "us/kosovo-campaign-medal",
    "us/philippine-presidential-unit-citation",
    "us/american-campaign-medal",
    # PC 1996-1982
    "ca/somalia-medal",
    # Royal Warrant of 1968; PM&C
    "au/vietnam-medal",
    "au/australia-service-medal-1939-45",
    "au/public-service-medal",
    "nz/new-zealand-defence-service-medal",
]


@pytest.mark.parametrize("name", MIRRORED)
def test_a_ribbon_published_as_mirrored_is_symmetrical(spec, name):
    """Turned back to front it looks the same."""
    assert ribbon_of(spec, name).symmetrical


@pytest.mark.parametrize("name", ONE_WAY_ROUND)
def test_a_ribbon_published_with_two_unlike_edges_has_a_way_round(spec, name):
    """Mounted back to front it is wrong, and can be seen to be."""
    assert not ribbon_of(spec, name).symmetrical


# Awards in the sequence that the published text gives; not always neighbours.
ORDERS = [
    # DA Pamphlet 670-1 (2021), paragraph 22-5
    ("us/army", "us/distinguished-service-cross us/navy-cross us/air-force-cross us/coast-guard-cross"),
    (
        "us/army",
        "us/army-commendation-medal us/navy-and-marine-corps-commendation-medal us/joint-service-achievement-medal",
    ),
    ("us/army", "us/coast-guard-achievement-medal us/combat-action-ribbon us/air-force-combat-action-medal"),
    # Wikipedia, Armed Forces Reserve Medal: Army, between the Sea Duty and the NCO Professional Development ribbons
    ("us/army", "us/army-sea-duty-ribbon us/armed-forces-reserve-medal us/nco-professional-development-ribbon"),
    # Navy precedence list: an Army cross goes straight after the Navy Cross
    ("us/navy", "us/navy-cross us/distinguished-service-cross us/defense-distinguished-service-medal"),
    # NAVPERS 15665: from the Combat Action Ribbon to the "E" ribbon
    (
        "us/navy",
        "us/combat-action-ribbon us/navy-presidential-unit-citation us/joint-meritorious-unit-award "
        "us/navy-unit-commendation us/navy-meritorious-unit-commendation us/navy-e-ribbon",
    ),
    # Wikipedia, Drill Instructor Ribbon; Marine Corps Times, 8 September 2014
    (
        "us/marine-corps",
        "us/marine-corps-recruiting-ribbon us/marine-corps-drill-instructor-ribbon "
        "us/marine-corps-security-guard-ribbon us/marine-corps-combat-instructor-ribbon "
        "us/armed-forces-reserve-medal",
    ),
    # AFI 36-2903, paragraphs 11.5.64 to 11.5.92
    (
        "us/air-force",
        "us/medal-for-humane-action us/national-defense-service-medal us/korean-service-medal "
        "us/antarctica-service-medal us/armed-forces-expeditionary-medal us/vietnam-service-medal "
        "us/southwest-asia-service-medal us/kosovo-campaign-medal us/afghanistan-campaign-medal "
        "us/iraq-campaign-medal us/global-war-on-terrorism-expeditionary-medal "
        "us/global-war-on-terrorism-service-medal us/korea-defense-service-medal "
        "us/armed-forces-service-medal us/humanitarian-service-medal "
        "us/military-outstanding-volunteer-service-medal us/air-and-space-campaign-medal "
        "us/air-force-overseas-short-tour-ribbon us/air-force-overseas-long-tour-ribbon "
        "us/army-overseas-service-ribbon us/air-force-expeditionary-service-ribbon "
        "us/sea-service-deployment-ribbon us/coast-guard-special-operations-service-ribbon "
        "us/coast-guard-sea-service-ribbon us/air-force-longevity-service-ribbon "
        "us/air-force-basic-training-instructor-ribbon us/air-force-recruiter-ribbon "
        "us/armed-forces-reserve-medal us/nco-pme-graduate-ribbon",
    ),
    # Wikipedia, Inherent Resolve Campaign Medal
    (
        "us/navy",
        "us/iraq-campaign-medal us/inherent-resolve-campaign-medal us/global-war-on-terrorism-expeditionary-medal",
    ),
    # Coast Guard: gold lifesaving after the Coast Guard Medal, silver after the Air Medal
    (
        "us/coast-guard",
        "us/coast-guard-medal us/gold-lifesaving-medal us/bronze-star-medal us/air-medal "
        "us/silver-lifesaving-medal us/coast-guard-commendation-medal",
    ),
    # Executive Order 12824, section 2
    ("us/coast-guard", "us/homeland-security-distinguished-service-medal us/coast-guard-distinguished-service-medal"),
    # Reference page on Coast Guard medals, Arctic Service Medal, order of precedence
    (
        "us/coast-guard",
        "us/antarctica-service-medal us/coast-guard-arctic-service-medal us/armed-forces-expeditionary-medal",
    ),
    # SI/98-55, section 1
    ("ca/canadian-awards", "ca/victoria-cross ca/cross-of-valour ca/order-of-canada-companion"),
    (
        "ca/canadian-awards",
        "ca/order-of-military-merit-officer gb/royal-victorian-order-lvo ca/order-of-military-merit-member "
        "gb/royal-victorian-order-mvo gb/order-of-st-john",
    ),
    ("ca/canadian-awards", "gb/air-crew-europe-star gb/africa-star gb/france-and-germany-star gb/defence-medal"),
    (
        "ca/canadian-awards",
        "gb/defence-medal ca/canadian-volunteer-service-medal gb/war-medal-1939-1945 gb/korea-medal",
    ),
    ("ca/canadian-awards", "ca/special-service-medal un/korea-service"),
    # Veterans Affairs Canada, Special Service Medal; missions to Prevlaka and Haiti
    (
        "ca/canadian-awards",
        "ca/operational-service-medal-haiti ca/special-service-medal ca/canadian-peacekeeping-service-medal",
    ),
    ("ca/canadian-awards", "un/minurca un/unpredep un/unmibh un/unmop un/unmik"),
    ("ca/canadian-awards", "un/unmee un/minustah un/unoci"),
    # SI/98-55, section 5: by list, not by date; six Canadian decorations before St. John before the provinces
    ("ca/with-british-awards", "gb/victoria-cross gb/george-cross ca/cross-of-valour"),
    (
        "ca/with-british-awards",
        "gb/order-of-the-british-empire-cbe gb/distinguished-service-order ca/order-of-military-merit-officer",
    ),
    (
        "ca/with-british-awards",
        "gb/air-force-cross ca/star-of-military-valour ca/meritorious-service-medal "
        "gb/royal-red-cross-associate gb/order-of-st-john ca/ordre-national-du-quebec-grand-officer "
        "gb/distinguished-conduct-medal",
    ),
    ("ca/with-british-awards", "gb/general-service-medal-1962 gb/1914-star"),
    ("ca/with-british-awards", "gb/air-efficiency-award ca/canadian-forces-decoration"),
    # Gazette C2017G00904 and C2020G00621
    (
        "au/australian-order-of-wearing",
        "au/emergency-services-medal au/australian-corrections-medal au/australian-intelligence-medal",
    ),
    # Wikipedia, Distinguished Service Cross (Australia), Nursing Service Cross, Commendation for Brave Conduct
    (
        "au/australian-order-of-wearing",
        "au/star-of-gallantry au/star-of-courage au/distinguished-service-cross-australia au/order-of-australia-member",
    ),
    ("au/australian-order-of-wearing", "au/conspicuous-service-cross au/nursing-service-cross au/medal-for-gallantry"),
    (
        "au/australian-order-of-wearing",
        "au/commendation-for-gallantry au/commendation-for-brave-conduct "
        "au/commendation-for-distinguished-service gb/1939-1945-star",
    ),
    # A veterans' page on medals that shows a Vietnam-era bar from left to right
    (
        "au/australian-order-of-wearing",
        "gb/military-medal au/australian-active-service-medal-1945-75 au/vietnam-medal "
        "au/australian-service-medal-1945-75 au/defence-force-service-medal au/national-medal "
        "au/australian-defence-medal us/vietnam-gallantry-cross",
    ),
    (
        "au/australian-order-of-wearing",
        "au/international-force-east-timor-medal au/afghanistan-medal au/iraq-medal "
        "au/australian-service-medal-1945-75 au/australian-general-service-medal-korea "
        "au/australian-service-medal",
    ),
    # Gazettes S169 of 2011 and S31 of 2011
    (
        "au/australian-order-of-wearing",
        "au/police-overseas-service-medal au/humanitarian-overseas-service-medal au/national-emergency-medal "
        "au/civilian-service-medal-1939-1945 au/national-police-service-medal",
    ),
    # Order of wear, 1 June 2011
    (
        "nz/new-zealand-order-of-wear",
        "nz/victoria-cross-for-new-zealand nz/new-zealand-cross gb/george-cross gb/order-of-the-bath-gcb "
        "gb/order-of-merit nz/order-of-new-zealand nz/nz-order-of-merit-grand-companion "
        "gb/order-of-st-michael-and-st-george-gcmg",
    ),
    # Wikipedia, New Zealand Bravery Medal and order of precedence
    (
        "nz/new-zealand-order-of-wear",
        "gb/military-medal gb/queens-gallantry-medal nz/new-zealand-gallantry-medal "
        "nz/new-zealand-bravery-medal gb/royal-victorian-medal nz/queens-service-medal "
        "nz/new-zealand-antarctic-medal nz/new-zealand-distinguished-service-decoration "
        "gb/british-empire-medal",
    ),
    # Government note of November 2002: the Operational Service Medal before all operational medals since 1945
    ("nz/new-zealand-order-of-wear", "nz/new-zealand-operational-service-medal gb/korea-medal"),
    ("nz/new-zealand-order-of-wear", "nz/new-zealand-operational-service-medal nz/east-timor-medal"),
    (
        "nz/new-zealand-order-of-wear",
        "nz/new-zealand-1990-commemoration-medal nz/new-zealand-suffrage-centennial-medal-1993 "
        "nz/new-zealand-meritorious-service-medal nz/new-zealand-defence-meritorious-service-medal "
        "nz/new-zealand-police-meritorious-service-medal nz/new-zealand-public-service-medal "
        "nz/new-zealand-armed-forces-award",
    ),
    (
        "nz/new-zealand-order-of-wear",
        "nz/new-zealand-prison-service-medal nz/new-zealand-traffic-service-medal "
        "nz/new-zealand-customs-service-medal gb/cadet-forces-medal nz/new-zealand-defence-service-medal "
        "gb/rhodesia-medal",
    ),
]


@pytest.mark.parametrize(("order", "awards"), ORDERS, ids=[f"{o}:{a.split()[0]}" for o, a in ORDERS])
def test_awards_stand_in_the_published_sequence(spec, order, awards):
    """Each award stands before the next one in the order of wear."""
    places = {}
    for place, group in enumerate(spec.orders[order].groups):
        for rank, award in enumerate(group.awards):
            places[award] = (place, rank if group.sequence == "listed" else 0)
    found = [places[award] for award in awards.split()]
    assert found == sorted(set(found))


def test_campaign_medals_of_new_zealand_go_by_date(spec):
    """Order of wear, 2011: campaign medals by the date of taking part, so they have no place of their own."""
    groups = {g.id: g for g in spec.orders["nz/new-zealand-order-of-wear"].groups}
    assert groups["campaigns-since-1945"].sequence == "by-date"
    assert groups["commonwealth"].sequence == "by-award-date"


def test_theatre_medals_of_the_second_world_war_go_in_the_order_earned(spec):
    """AFI 36-2903, paragraph 11.5.61; occupation medals 11.5.63, reserve medals 11.5.91."""
    groups = {g.id: g for g in spec.orders["us/air-force"].groups}
    for name in ("second-world-war-theatres", "occupation", "reserve"):
        assert groups[name].sequence == "by-date"


def test_unit_awards_are_on_the_left_breast_in_the_navy_and_not_in_the_army(spec):
    """AR 670-1: the Army wears them on the right breast; the Navy after the Combat Action Ribbon."""
    army = {a for g in spec.orders["us/army"].groups for a in g.awards}
    navy = {a for g in spec.orders["us/navy"].groups for a in g.awards}
    assert "us/joint-meritorious-unit-award" in navy - army


def test_layout_follows_the_published_rules(spec):
    """NAVPERS 15665, article 5312: rows of three, the remainder on top and centred; Canadian dress instructions: at
    most four in a row, three where the lapel hides them; AFI 36-2903: a second ribbon when the clusters do not fit."""
    navy, canada = spec.orders["us/navy"], spec.orders["ca/canadian-awards"]
    assert (navy.ribbons_per_row, navy.short_row, navy.short_row_align) == (3, "top", "centre")
    assert (canada.ribbons_per_row, canada.rows_allowed) == (4, (3,))
    assert spec.orders["us/air-force"].second_ribbon
    assert not navy.second_ribbon


DATES = [
    # CFR, title 32, part 578
    ("us/american-defense-service-medal", date(1939, 9, 8), date(1941, 12, 7)),
    ("us/european-african-middle-eastern-campaign-medal", date(1941, 12, 7), date(1945, 11, 8)),
    ("us/world-war-ii-victory-medal", date(1941, 12, 7), date(1946, 12, 31)),
    ("us/medal-for-humane-action", date(1948, 6, 26), date(1949, 9, 30)),
    ("us/korean-service-medal", date(1950, 6, 27), date(1954, 7, 27)),
    ("us/southwest-asia-service-medal", date(1990, 8, 2), date(1995, 11, 30)),
    # Wikipedia, Iraq Campaign Medal: 19 March 2003 to 31 December 2011
    ("us/iraq-campaign-medal", date(2003, 3, 19), date(2011, 12, 31)),
    # SI/94-62
    ("ca/canadian-volunteer-service-medal", date(1939, 9, 3), date(1947, 3, 1)),
    # PC 1991-860 and PC 1996-1982
    ("ca/gulf-and-kuwait-medal", date(1990, 8, 2), date(1991, 6, 27)),
    ("ca/somalia-medal", date(1992, 11, 16), date(1993, 6, 30)),
    # Department of Defence, International Force East Timor Medal
    ("au/international-force-east-timor-medal", date(1999, 9, 16), date(2000, 4, 10)),
    # Wikipedia, Australian General Service Medal for Korea
    ("au/australian-general-service-medal-korea", date(1953, 7, 28), date(1956, 4, 19)),
    # Birkenhead RSA, East Timor Medal
    ("nz/east-timor-medal", date(1999, 6, 19), date(2006, 4, 27)),
    # Wikipedia, New Zealand General Service Medal 2002 (Iraq 2015): since 4 November 2014
    ("nz/new-zealand-general-service-medal-2002-iraq-2015", date(2014, 11, 4), None),
    # rnzncomms.org, announcement of 9 July 2016: since 7 December 2014
    ("nz/new-zealand-general-service-medal-2002-greater-middle-east", date(2014, 12, 7), None),
    # Wikipedia, Gallant Unit Citation: on or after 11 September 2001
    ("us/gallant-unit-citation", date(2001, 9, 11), None),
    # Marine Corps Times, 8 September 2014: backdated to 9 October 2002
    ("us/marine-corps-combat-instructor-ribbon", date(2002, 10, 9), None),
    # Wikipedia, Merchant Marine Defense Bar
    ("us/merchant-marine-defense-medal", date(1939, 9, 8), date(1941, 12, 7)),
    # Wikipedia, Merchant Marine Distinguished Service Medal: on or after 3 September 1939
    ("us/merchant-marine-distinguished-service-medal", date(1939, 9, 3), None),
    # Wikipedia, Reserve Special Commendation Ribbon: command between 1 January 1930 and 7 December 1941
    ("us/reserve-special-commendation-ribbon", date(1930, 1, 1), date(1941, 12, 7)),
    # Wikipedia, New Zealand Traffic Service Medal: serving on or after 1 January 1987 and before 1 July 1992
    ("nz/new-zealand-traffic-service-medal", date(1987, 1, 1), date(1992, 6, 30)),
    # Wikipedia, Special Operations Service Ribbon: since 1 July 1987
    ("us/coast-guard-special-operations-service-ribbon", date(1987, 7, 1), None),
]


@pytest.mark.parametrize(("award", "first", "last"), DATES, ids=[name for name, _, _ in DATES])
def test_qualifying_days_are_the_published_ones(spec, award, first, last):
    """First and last day of the service the award is for."""
    earned = spec.awards[award].earned
    assert (earned.start, earned.end) == (first, last)


def test_exclusions_are_the_published_ones(spec):
    """SI/94-62, section 5(2); Department of Defence (Vietnam medals); Wikipedia (Defence Long Service Medal)."""
    excluded = {frozenset(rule.awards) for rule in spec.rules if rule.kind == "not-together"}
    for pair in (
        ("ca/canadian-volunteer-service-medal", "ca/newfoundland-volunteer-war-service-medal"),
        ("au/vietnam-medal", "au/vietnam-logistic-and-support-medal"),
        ("au/defence-long-service-medal", "au/reserve-force-medal"),
    ):
        assert frozenset(pair) in excluded


def test_stated_american_widths_add_up_to_the_ribbon(spec):
    """Institute of Heraldry: 1 3/8 in, written as 88 sixty-fourths; its Distinguished Flying Cross text gives 86."""
    short = {"us/distinguished-flying-cross"}
    sums = {
        award.key: sum(s.width for s in ribbon.stripes)
        for award in spec.awards.values()
        for ribbon in award.ribbons
        if award.key.startswith("us/") and ribbon.shape == "stripes" and ribbon.certainty == "stated"
    }
    in_inches = {key: total for key, total in sums.items() if total > 10}
    assert len(in_inches) > 50
    assert {key for key, total in in_inches.items() if abs(total - 88) > 0.01} == short


def test_the_coast_guard_achievement_ribbon_is_the_navy_ribbon_with_a_white_line(spec):
    """Heraldry, Coast Guard Achievement Medal: the Navy's but for a white stripe of 3/32 in down the middle."""
    navy, coast_guard = (
        [
            (stripe.start.name, round(stripe.width / sum(s.width for s in ribbon.stripes), 3))
            for stripe in ribbon.stripes
        ]
        for ribbon in (
            ribbon_of(spec, "us/navy-and-marine-corps-achievement-medal"),
            ribbon_of(spec, "us/coast-guard-achievement-medal"),
        )
    )
    middle = len(coast_guard) // 2
    ground, line = coast_guard[middle - 1], coast_guard[middle]
    assert line == ("white", pytest.approx(3 / 32 / 1.375, abs=SHARE))
    joined = (ground[0], pytest.approx(2 * ground[1] + line[1], abs=SHARE))
    assert [*coast_guard[: middle - 1], joined, *coast_guard[middle + 2 :]] == navy

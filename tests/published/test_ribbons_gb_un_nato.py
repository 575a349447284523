"""The ribbons and orders of wear of the United Kingdom, the United Nations, NATO, the European Union and other
international bodies against published texts.

Every value here was written down from the text named beside it, in that text's own units, and not from the
specification files. Words for colours are the specification's nearest name: "navy" is dark-blue, "bluebird" and the
"light blue" of the United Nations are un-blue. Widths are compared as shares of the whole.
"""

from datetime import date

import pytest

from ribbonbar.spec.colour import ciede2000
from ribbonbar.spec.reader import read_specification, shipped_specs

FILES = ("united-kingdom*", "united-nations*", "nato*", "european-union*", "international*")
SHARE = 0.02
"""Two texts about one ribbon differ by this share of the width (inches against millimetres); from comparing them."""


@pytest.fixture(scope="module")
def spec():
    return read_specification(sorted(path for name in FILES for path in shipped_specs().glob(f"{name}.toml")))


def ribbon(spec, name):
    """``"gb/award"``: its first ribbon; ``"gb/award#id"``: the one with this id."""
    award, _, own = name.partition("#")
    ribbons = spec.awards[award].ribbons
    return next(r for r in ribbons if r.id == own) if own else ribbons[0]


def colours(ribbon):
    return [s.start.name if s.start == s.end else f"{s.start.name}>{s.end.name}" for s in ribbon.stripes]


# The ribbon; its colours from the viewer's left; their widths as published (None: not published); the publication.
PATTERNS = [
    # Institute of Heraldry, United Nations Medal, as reproduced: nine bluebird and eight white stripes, 5/64 in each.
    ("un/korea-service", "un-blue white " * 8 + "un-blue", [5 / 64] * 17),
    # Institute of Heraldry: UNTSO and UNOGIL, 7/32, 3/32, 3/4, 3/32, 7/32 in.
    ("un/untso", "un-blue white un-blue white un-blue", [7 / 32, 3 / 32, 3 / 4, 3 / 32, 7 / 32]),
    ("un/unogil", "un-blue white un-blue white un-blue", [7 / 32, 3 / 32, 3 / 4, 3 / 32, 7 / 32]),
    # Institute of Heraldry: UNTAC, myrtle green 11/32, ultramarine 1/16, bluebird 5/32, burnt orange 1/16, white 1/8.
    (
        "un/untac",
        "myrtle-green ultramarine-blue un-blue burnt-orange white burnt-orange un-blue ultramarine-blue myrtle-green",
        [11 / 32, 1 / 16, 5 / 32, 1 / 16, 1 / 8, 1 / 16, 5 / 32, 1 / 16, 11 / 32],
    ),
    # Institute of Heraldry: UN Security Forces, Hollandia: 1/8 in of dark green, white, light green amid bluebird.
    ("un/unsf-untea", "un-blue myrtle-green white moss-green un-blue", [1 / 2, 1 / 8, 1 / 8, 1 / 8, 1 / 2]),
    # birkenheadrsa.com, The United Nations Medal (UNPROFOR): green on the left, brown on the right, millimetres.
    (
        "un/unprofor",
        "un-blue green un-blue white red white un-blue brown un-blue",
        [3, 6, 3, 1, 9, 1, 3, 6, 3],
    ),
    # birkenheadrsa.com, UNAVEM: light blue, 8 mm yellow edges, inside them 1.5 mm red and white and 1 mm black.
    (
        "un/unavem",
        "yellow red white black un-blue black white red yellow",
        [8, 1.5, 1.5, 1, 11, 1, 1.5, 1.5, 8],
    ),
    # un.org, UN Medals: UNDOF: UN blue with a red line; black, white and wide burgundy outward. Canada agrees.
    ("un/undof", "burgundy white black un-blue red un-blue black white burgundy", None),
    # un.org, UN Medals: UNOMIL: deep blue on the left, red on the right, white beside the UN blue centre.
    ("un/unomil", "dark-blue white un-blue white red", None),
    # un.org, UN Medals: UNMOP: dark blue ground, yellow centre between thin white, a band of UN blue on either side.
    ("un/unmop", "dark-blue un-blue dark-blue white yellow white dark-blue un-blue dark-blue", None),
    # un.org, UN Medals: UNSSM: a large blue stripe between two white ones.
    ("un/un-special-service", "white un-blue white", None),
    # veterans.gc.ca, details/163: dark blue outside, then equal white and green, UN blue in the centre.
    ("un/unamsil", "dark-blue white green un-blue green white dark-blue", None),
    # veterans.gc.ca, node/104244: UN blue centre bordered white, green, royal blue.
    ("un/minustah", "royal-blue green white un-blue white green royal-blue", None),
    # birkenheadrsamedals.nz, 930: two outer bands of UN blue, narrow white, dark blue within.
    ("un/unmik", "un-blue white dark-blue white un-blue", None),
    # Encyclopaedia article, United Nations Emergency Force Medal: 8 mm centre; 3 mm from the edge a 1 mm dark blue and
    # 2 mm further a 1 mm dark green line; 35 mm.
    (
        "un/unef-1",
        "sand dark-blue sand dark-green sand un-blue sand dark-green sand dark-blue sand",
        [3, 1, 2, 1, 6.5, 8, 6.5, 1, 2, 1, 3],
    ),
    # birkenheadrsa.com, NATO medal for Kosovo: wide white centre, a narrow white stripe on either edge.
    ("nato/kosovo", "white nato-blue white nato-blue white", None),
    # Reference page, NATO Macedonia: two white stripes at either side and narrow white lines on the edge.
    ("nato/macedonia", "white nato-blue white nato-blue white nato-blue white", None),
    # Medals of the Irish Defence Forces, page 88: Yale blue, a white centre stripe, a silver line in its centre.
    ("nato/non-article-5-balkans#centre-stripe", "nato-blue white silver white nato-blue", None),
    # irishmedals.org, European medals: blue with a yellow centre (forces) or a white centre (planning and support).
    ("eu/csdp-althea#operations", "eu-blue gold eu-blue", None),
    ("eu/csdp-althea#planning-support", "eu-blue white eu-blue", None),
    # Australian Department of Defence, MFO Medal: 1 3/8 in orange, 1/4 in white between two 1/16 in green stripes.
    (
        "int/multinational-force-observers#military",
        "mfo-orange green white green mfo-orange",
        [1 / 2, 1 / 16, 1 / 4, 1 / 16, 1 / 2],
    ),
    # veterans.gc.ca, International Commission, Indo-China: three equal bands dark green, white, red.
    ("int/icsc-indochina", "dark-green white red", [1, 1, 1]),
    # Royal Warrant of 28 December 1914: white with a purple stripe.
    ("gb/military-cross", "white deep-purple white", None),
    # War Office 3973: watered orange centre, white and black on each side, borders of royal blue.
    ("gb/british-war-medal", "royal-blue black white watered-orange white black royal-blue", None),
    # Registry of Shipping and Seamen 1998: dark blue, red and light blue in three equal vertical stripes.
    ("gb/1939-1945-star", "dark-blue red light-blue", [1, 1, 1]),
    # The Gazette, notice 4416215: central white, on either side red, light blue, dark blue and purple.
    ("gb/humanitarian-medal", "purple dark-blue light-blue red white red light-blue dark-blue purple", None),
    # Encyclopaedia article, Nuclear Test Medal: central white, then yellow, black, red, sky blue at the edge.
    ("gb/nuclear-test-medal", "light-blue red black yellow white yellow black red light-blue", None),
    # Encyclopaedia article, Queen Elizabeth II Silver Jubilee Medal: 31.8 mm white, 1 mm red edges, 7 mm garter blue
    # in the centre cut by 1 mm of red.
    (
        "gb/elizabeth-ii-silver-jubilee-1977",
        "red white garter-blue red garter-blue white red",
        [1, 11.4, 3, 1, 3, 11.4, 1],
    ),
    # Birtwistle wiki: 32 mm dark red, 2 mm white edges, two 2 mm dark blue stripes 1.6 mm apart in the centre.
    (
        "gb/elizabeth-ii-coronation-1953",
        "white dark-red dark-blue dark-red dark-blue dark-red white",
        [2, 11.2, 2, 1.6, 2, 11.2, 2],
    ),
    # Public Register of Arms of Canada, Diamond Jubilee Medal: red edged blue, two white lines in the centre.
    ("gb/elizabeth-ii-diamond-jubilee-2012", "royal-blue red white red white red royal-blue", None),
    # veterans.gc.ca, details/7: red at the left, shading through white into blue.
    ("gb/1914-15-star", "red>white white>blue", None),
    # birkenheadrsa.com, Mercantile Marine War Medal: 32 mm, green on the left, 4 mm white, red on the right.
    ("gb/mercantile-marine-war-medal", "green white red", [14, 4, 14]),
    # birkenheadrsamedals.nz, 285: red, blue, white, blue, red in equal stripes, 1.5 mm of red in the white.
    (
        "gb/war-medal-1939-1945",
        "red dark-blue white red white dark-blue red",
        [6.4, 6.4, 2.45, 1.5, 2.45, 6.4, 6.4],
    ),
    # Service battalion museum, Africa Star: millimetres, dark blue to the left.
    (
        "gb/africa-star",
        "pale-buff dark-blue pale-buff red pale-buff light-blue pale-buff",
        [5, 1.5, 5, 9, 5, 1.5, 5],
    ),
    # Collections WA, Air Crew Europe Star: black 4, yellow 3, light blue 18, yellow 3, black 4 mm.
    ("gb/air-crew-europe-star", "black yellow light-blue yellow black", [4, 3, 18, 3, 4]),
    # National Maritime Museum, Italy Star: five equal stripes.
    ("gb/italy-star", "red white green white red", [1] * 5),
    # Encyclopaedia article, Queen's South Africa Medal: red, blue, orange, blue, red, 5, 5, 12, 5, 5 mm.
    ("gb/queens-south-africa-medal", "red dark-blue orange dark-blue red", [5, 5, 12, 5, 5]),
    # veterans.gc.ca, details/5: King's South Africa Medal, three equal stripes green, white, orange.
    ("gb/kings-south-africa-medal", "green white orange", [1, 1, 1]),
    # birkenheadrsamedals.nz, 90: 32 mm white with 5 mm dark blue at each edge; flying: light blue.
    ("gb/conspicuous-gallantry-medal", "dark-blue white dark-blue", [5, 22, 5]),
    ("gb/conspicuous-gallantry-medal-flying", "dark-blue light-blue dark-blue", [5, 22, 5]),
    # birkenheadrsamedals.nz, 85: three equal stripes crimson, dark blue, crimson.
    ("gb/distinguished-conduct-medal", "crimson dark-blue crimson", [1, 1, 1]),
    # identifymedals.com, Medal for Long Service and Good Conduct: 32 mm crimson with 3 mm white edges.
    ("gb/long-service-good-conduct-military", "white crimson white", [3, 26, 3]),
    # Navy museum, Royal Naval Reserve Long Service Medal: from 1957 equal blue, white, green, white, blue.
    ("gb/royal-naval-reserve-long-service", "blue white green white blue", [1] * 5),
    # prideofindia.net: 35 mm, white 5, dark blue 6, claret 13, dark blue 6, white 5.
    ("gb/indian-police-medal", "white dark-blue claret dark-blue white", [5, 6, 13, 6, 5]),
    # gibnet.com, Operational Service Medal: broad red centre, royal blue, light blue, light brown outside.
    (
        "gb/osm-afghanistan",
        "light-brown light-blue dark-blue red dark-blue light-blue light-brown",
        None,
    ),
    # General Service Medal 1962, Royal Warrant: purple with green edges.
    ("gb/general-service-medal-1962", "dark-green purple dark-green", None),
    # veterans.gc.ca, details/53, Military Medal: dark blue with white, red, white, red, white in the centre.
    ("gb/military-medal", "dark-blue white crimson white crimson white dark-blue", None),
    # gm-league.com, The Conspicuous Gallantry Cross: white, narrow dark blue at each edge, crimson in the centre.
    ("gb/conspicuous-gallantry-cross", "dark-blue white crimson white dark-blue", None),
    # Ministry of Defence, The George Medal: crimson with five narrow stripes of blue.
    ("gb/george-medal", "crimson dark-blue " * 5 + "crimson", None),
    # veterans.gc.ca, details/2, Egypt Medal: five equal stripes, blue and white.
    ("gb/egypt-medal", "blue white blue white blue", [1] * 5),
    # Veterans Affairs Canada, Defence Medal, as reproduced: 1.25 in, orange centre of 0.5 in, black in the green.
    (
        "gb/defence-medal",
        "green black green flame-orange green black green",
        [0.17, 0.035, 0.17, 0.5, 0.17, 0.035, 0.17],
    ),
    # The Canadian Honours System, North West Canada Medal: 32 mm pearl grey, crimson 3 mm from either edge.
    ("gb/north-west-canada-medal", "pearl-grey crimson pearl-grey crimson pearl-grey", None),
    # veterans.gc.ca, details/70, Air Efficiency Award: dark green, two narrow pale blue stripes in the centre.
    ("gb/air-efficiency-award", "dark-green light-blue dark-green light-blue dark-green", None),
    # birkenheadrsa.com, The Rhodesia Medal: red, white, dark blue from the left in the middle of light blue.
    ("gb/rhodesia-medal", "light-blue red white dark-blue light-blue", None),
]


@pytest.mark.parametrize("name, words, widths", PATTERNS, ids=[p[0] for p in PATTERNS])
def test_a_ribbon_has_the_published_colours_in_the_published_sequence_and_proportions(spec, name, words, widths):
    """The stripes run left to right as the publication says, and each takes the published share of the width."""
    found = ribbon(spec, name)
    assert found.shape == "stripes"
    assert colours(found) == words.split()
    if widths:
        total = sum(s.width for s in found.stripes)
        for stripe, published in zip(found.stripes, widths, strict=True):
            assert stripe.width / total == pytest.approx(published / sum(widths), abs=SHARE)


# The ribbon, the width of the whole in millimetres, the publication.
INCH = 25.4
WIDTHS = [
    ("gb/victoria-cross", 38),  # Service battalion museum: 1 1/2 in
    ("gb/order-of-the-bath-cb", 38),  # The Canadian Honours System, chapter 4
    ("gb/air-efficiency-award", 1.5 * INCH),  # veterans.gc.ca, details/70
    ("gb/air-force-cross", 1.25 * INCH),  # veterans.gc.ca, details/47
    ("gb/military-cross", 1.375 * INCH),  # Royal Warrant of 28 December 1914
    ("gb/distinguished-service-order", 1.125 * INCH),  # veterans.gc.ca, details/40
    ("gb/royal-red-cross", 1 * INCH),  # Everybody's Cyclopedia 1912
    ("gb/humanitarian-medal", 1.25 * INCH),  # The Gazette, notice 4416215
    ("gb/elizabeth-ii-silver-jubilee-1977", 31.8),  # encyclopaedia article
    ("gb/indian-police-medal", 35),  # prideofindia.net
    ("gb/queens-gallantry-medal", 33),  # birkenheadrsa.com, measured
    ("gb/polar-medal", 32),  # Canadian Polar Medal, book chapter
    ("un/unprofor", 35),  # birkenheadrsa.com
    ("nato/kosovo", 35),  # birkenheadrsa.com
    ("eu/csdp-althea", 36),  # encyclopaedia article
    ("int/multinational-force-observers", 1.375 * INCH),  # Australian Department of Defence
]


@pytest.mark.parametrize("name, millimetres", WIDTHS, ids=[w[0] for w in WIDTHS])
def test_a_ribbon_keeps_its_published_width_on_the_bar(spec, name, millimetres):
    """Crosses and orders are wider or narrower than the 32 mm of most British ribbons."""
    assert ribbon(spec, name).width_mm == pytest.approx(millimetres, abs=0.5)


def test_widths_in_millimetres_add_up_to_the_width_of_the_ribbon(spec):
    """A list that sums to more than 20 is in millimetres, and then it must fill the ribbon and no more."""
    wrong = [
        f"{award.key} {one.id}: {total:g} of {one.width_mm:g} mm"
        for award in spec.awards.values()
        for one in award.ribbons
        if one.shape == "stripes" and (total := sum(s.width for s in one.stripes)) > 20
        if abs(total - one.width_mm) > 0.3
    ]
    assert wrong == []


# Sources as in PATTERNS; each says "either side", "at each edge", "mirrored", or names the same on both sides.
SYMMETRICAL = [
    "un/korea-service",
    "un/untso",
    "un/unmogip",
    "un/unipom",
    "un/undof",
    "un/unavem",
    "un/untac",
    "un/unmop",
    "un/unamsil",
    "un/minustah",
    "un/unmik",
    "un/un-special-service",
    "un/unef-1",
    "un/unyom",
    "nato/former-yugoslavia",
    "nato/kosovo",
    "nato/training-mission-iraq",
    "eu/csdp-atalanta",
    "int/multinational-force-observers",
    "gb/victory-medal",
    "gb/arctic-star",
    "gb/war-medal-1939-1945",
    "gb/burma-star",
    "gb/defence-medal",
    "gb/nuclear-test-medal",
    "gb/humanitarian-medal",
    "gb/osm-afghanistan",
    "gb/conspicuous-gallantry-medal",
    "gb/distinguished-service-medal",
    "gb/royal-victorian-order-mvo",
    "gb/south-atlantic-medal",
]


@pytest.mark.parametrize("name", SYMMETRICAL)
def test_a_ribbon_published_as_mirrored_looks_the_same_from_both_ends(spec, name):
    """Nobody can mount such a ribbon back to front."""
    assert ribbon(spec, name).symmetrical


# The ribbon, the colour nearest the viewer's left and the one nearest the right, among those that differ.
WAY_ROUND = [
    ("gb/1939-1945-star", "dark-blue", "light-blue"),  # Registry of Shipping 1998: farthest from the left shoulder
    ("gb/pacific-star", "dark-blue", "light-blue"),  # mnawales.org.uk
    ("gb/africa-star", "dark-blue", "light-blue"),  # veterans.gc.ca, Africa Star
    ("gb/cadet-forces-medal", "dark-blue", "light-blue"),  # medals.navymuseum.co.nz
    ("gb/civil-defence-long-service-medal", "yellow", "green"),  # forces-war-records.co.uk
    ("gb/mercantile-marine-war-medal", "green", "red"),  # birkenheadrsa.com
    ("un/unprofor", "green", "brown"),  # birkenheadrsa.com
    ("un/unomil", "dark-blue", "red"),  # un.org
    ("un/untaes", "light-green", "yellow"),  # un.org
    ("un/unmibh", "light-green", "red"),  # text of the un.org page
    ("un/unpsg", "yellow", "dark-grey"),  # un.org
    ("un/unoci", "orange", "green"),  # canada.ca
    ("un/unmih", "dark-blue", "red"),  # birkenheadrsamedals.nz, 895
]


@pytest.mark.parametrize("name, left, right", WAY_ROUND, ids=[w[0] for w in WAY_ROUND])
def test_an_asymmetric_ribbon_is_the_published_way_round(spec, name, left, right):
    """The published side of a colour tells a ribbon mounted back to front."""
    found = ribbon(spec, name)
    assert not found.symmetrical
    assert colours(found).index(left) < colours(found).index(right)


@pytest.mark.parametrize(
    "name, colour, inches",
    [
        ("gb/distinguished-flying-cross", "violet", 1 / 8),
        ("gb/distinguished-flying-medal", "violet", 1 / 16),
        ("gb/air-force-cross", "red", 1 / 8),  # veterans.gc.ca, details/47: red in these corners
        ("gb/air-force-medal", "red", 1 / 16),  # common practice, no source
    ],
)
def test_the_flying_decorations_run_down_from_the_viewers_left(spec, name, colour, inches):
    """Veterans Affairs Canada, Distinguished Flying Cross: the stripes lean 45 degrees to the left, with the colour in
    the bottom left and the top right corner; stripes of 1/8 in on the crosses and 1/16 in on the medals."""
    found = ribbon(spec, name)
    assert found.shape == "diagonal"
    assert found.angle % 180 == 135  # downward to the right, so these two corners lie in single stripes
    assert [s.start.name for s in found.stripes] == [colour, "white"]
    assert [s.width for s in found.stripes] == pytest.approx([inches * INCH] * 2)


def test_the_first_flying_ribbons_were_level(spec):
    """Encyclopaedia articles, Distinguished Flying Cross and Medal: horizontal stripes until July 1919."""
    for name in ("distinguished-flying-cross", "distinguished-flying-medal"):
        level = ribbon(spec, f"gb/{name}#level")
        assert level.shape == "bands"
        assert level.worn.end.year == 1919


def test_the_victory_ribbon_runs_from_red_in_the_centre_to_violet_at_the_edges(spec):
    """birkenheadrsamedals.nz, 235: red, yellow, green, blue, violet outward from the centre."""
    names = colours(ribbon(spec, "gb/victory-medal"))
    ends = [shade.split(">")[1] for shade in names[:4]]
    assert names[0].split(">")[0] == "violet"
    assert ends == ["blue", "green", "yellow", "red"]


SAME_RIBBON = [
    ("un/unipom", "un/unmogip"),  # veterans.gc.ca, node/104215: identical
    ("un/ungomap", "un/untso"),  # veterans.gc.ca, node/104209: worn on the UNTSO/UNOGIL ribbon
    ("un/monusco", "un/monuc"),  # un.org
    ("un/unmiset", "un/untaet"),  # birkenheadrsamedals.nz, 925
    ("gb/1914-star", "gb/1914-15-star"),  # Encyclopaedia Britannica 1922 and veterans.gc.ca
    ("gb/east-and-west-africa-medal", "gb/ashantee-medal"),  # encyclopaedia article, Ashantee Medal
    ("gb/royal-victorian-order-mvo", "gb/royal-victorian-medal"),  # The Tank Museum, Royal Victorian Order
]


@pytest.mark.parametrize("one, other", SAME_RIBBON, ids=[s[0] for s in SAME_RIBBON])
def test_awards_published_as_sharing_a_ribbon_share_it(spec, one, other):
    """Ribbons that are identical by publication must be identical stripe by stripe."""
    assert ribbon(spec, one).stripes == ribbon(spec, other).stripes


def rank(order, key):
    """Group and place in it; the place counts only in a listed group."""
    for number, group in enumerate(order.groups):
        if key in group.awards:
            return (number, group.awards.index(key)) if group.sequence == "listed" else (number,)
    raise AssertionError(f"{key} stands nowhere in {order.key}")


ORDER_2019 = [
    # London Gazette 62529, 11 January 2019, in the Gazette's sequence.
    "order-of-the-bath-gcb order-of-merit",
    "conspicuous-gallantry-cross distinguished-conduct-medal conspicuous-gallantry-medal "
    "conspicuous-gallantry-medal-flying george-medal west-african-frontier-force-dcm",
    "royal-red-cross distinguished-service-cross military-cross distinguished-flying-cross air-force-cross "
    "royal-red-cross-associate order-of-british-india kaisar-i-hind-medal order-of-st-john "
    "south-africa-kings-medal-for-bravery-gold kings-african-rifles-dcm indian-distinguished-service-medal",
    "distinguished-service-medal military-medal distinguished-flying-medal air-force-medal",
    # Encyclopaedia article, order of wear: class beats order, and one order stands at several places.
    "order-of-the-british-empire-cbe distinguished-service-order order-of-the-british-empire-obe "
    "order-of-the-british-empire-mbe",
    "order-of-the-british-empire-gbe order-of-the-bath-kcb order-of-the-bath-cb",
    # Encyclopaedia articles on each medal, citing Gazette 62529.
    "meritorious-service-medal accumulated-campaign-service-medal long-service-good-conduct-military "
    "naval-long-service-good-conduct",
    "police-long-service-good-conduct fire-brigade-long-service-good-conduct african-police-medal-meritorious-service",
    "royal-naval-reserve-long-service royal-naval-volunteer-reserve-long-service "
    "royal-naval-auxiliary-sick-berth-reserve-long-service",
    "champion-shots-air cadet-forces-medal coastguard-long-service-medal",
    "ambulance-service-long-service royal-fleet-auxiliary-service-medal prison-service-long-service rhodesia-medal",
    "ebola-medal national-crime-agency-long-service rhodesia-medal",
    "royal-ulster-constabulary-service-medal northern-ireland-prison-service-medal "
    "union-of-south-africa-commemoration-medal",
    "fiji-independence-medal papua-new-guinea-independence-medal solomon-islands-independence-medal",
    # Categories: crosses, orders, gallantry, campaign, polar, imperial service, police, commemorative, long service.
    "victoria-cross order-of-the-bath-gcb george-medal 1939-1945-star polar-medal imperial-service-medal "
    "colonial-police-medal elizabeth-ii-golden-jubilee-2002 cadet-forces-medal",
]


@pytest.mark.parametrize("sequence", ORDER_2019, ids=[s.split()[0] for s in ORDER_2019])
def test_the_british_order_of_2019_keeps_the_published_sequence(spec, sequence):
    """The sequence of each line is printed in the publication named above it."""
    order = spec.orders["gb/order-of-wear"]
    ranks = [rank(order, f"gb/{name}") for name in sequence.split()]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks)


def test_the_british_order_of_1948_keeps_the_published_sequence(spec):
    """New Zealand Gazette 1948, page 1348, which prints the British list of that time."""
    order = spec.orders["gb/order-of-wear-1948"]
    printed = (
        "burma-gallantry-medal south-africa-kings-medal-for-bravery-silver distinguished-service-medal military-medal "
        "distinguished-flying-medal air-force-medal constabulary-medal-ireland sea-gallantry-medal "
        "indian-order-of-merit-civil indian-police-medal-gallantry colonial-police-medal-gallantry "
        "british-empire-medal canada-medal life-saving-medal-st-john 1939-1945-star polar-medal "
        "royal-victorian-medal imperial-service-medal queens-police-medal-distinguished-service"
    )
    ranks = [rank(order, f"gb/{name}") for name in printed.split()]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks)


def test_jubilee_medals_stood_before_war_medals_until_november_1918(spec):
    """Encyclopaedia article, Delhi Durbar Medal (1903): before campaign medals until then, after them since."""
    before, since = spec.orders["gb/order-of-wear-1914"], spec.orders["gb/order-of-wear"]
    pair = ("gb/delhi-durbar-1903", "gb/queens-south-africa-medal")
    assert rank(before, pair[0]) < rank(before, pair[1])
    assert rank(since, pair[0]) > rank(since, pair[1])
    assert before.in_force.end < date(1918, 11, 11)


def test_united_nations_medals_stand_among_british_campaign_medals_and_the_observers_after_all_british_ones(spec):
    """Encyclopaedia articles: UN, NATO and EU medals by date among campaign medals; MFO after all British medals."""
    order = spec.orders["gb/order-of-wear"]
    campaign = next(group for group in order.groups if group.id == "campaign")
    assert campaign.sequence == "by-date"
    assert {"un/unficyp", "nato/isaf", "eu/csdp-althea", "gb/general-service-medal-1962"} <= set(campaign.awards)
    assert rank(order, "int/multinational-force-observers") > rank(order, "gb/cadet-forces-medal")


FIXED = [
    # devonheritage.org, medals of the Great War
    "1914-star british-war-medal mercantile-marine-war-medal victory-medal territorial-force-war-medal",
    # Encyclopaedia article, Air Crew Europe Star; Canadian Army Routine Order 6719 of 1946
    "1939-1945-star atlantic-star arctic-star air-crew-europe-star africa-star pacific-star burma-star italy-star "
    "france-and-germany-star defence-medal war-medal-1939-1945",
]


@pytest.mark.parametrize("sequence", FIXED, ids=["first-world-war", "second-world-war"])
def test_the_medals_of_each_world_war_keep_their_fixed_sequence(spec, sequence):
    """Their qualifying days overlap, so the date alone would not settle them."""
    wanted = [f"gb/{name}" for name in sequence.split()]
    lists = [rule.awards for rule in spec.rules if rule.kind == "listed-within"]
    assert any([key for key in awards if key in wanted] == wanted for awards in lists)


@pytest.mark.parametrize(
    "kind, awards",
    [
        ("not-together", "1914-star 1914-15-star"),  # veterans.gc.ca, details/7
        ("not-together", "pacific-star burma-star"),  # mnawales.org.uk
        # Encyclopaedia article, Air Crew Europe Star
        ("not-together", "atlantic-star air-crew-europe-star france-and-germany-star"),
        ("needs", "victory-medal british-war-medal"),  # regimentalrogue.com
        ("needs", "kings-south-africa-medal queens-south-africa-medal"),  # veterans.gc.ca, details/5
        ("needs", "mercantile-marine-war-medal british-war-medal"),  # medals.org.uk
    ],
)
def test_published_exclusions_and_requirements_are_rules(spec, kind, awards):
    """What was never given together, or never alone."""
    wanted = tuple(f"gb/{name}" for name in awards.split())
    assert any(rule.kind == kind and rule.awards == wanted for rule in spec.rules)


# The award, its first and last qualifying day, the publication.
DATES = [
    ("gb/1939-1945-star", date(1939, 9, 3), date(1945, 9, 2)),  # Registry of Shipping and Seamen 1998
    ("gb/1914-star", date(1914, 8, 5), date(1914, 11, 22)),  # clasp of the star, Encyclopaedia Britannica 1922
    ("gb/gulf-medal-1990-91", date(1990, 8, 2), date(1991, 3, 7)),  # encyclopaedia article, Gulf Medal
    ("gb/general-service-medal-1962", date(1962, 12, 24), None),  # Royal Warrant: service after 23 December 1962
    ("un/unipom", date(1965, 9, 22), date(1966, 3, 24)),  # veterans.gc.ca, node/104215
    ("un/ungomap", date(1988, 5, 1), date(1990, 3, 15)),  # veterans.gc.ca, node/104209
    ("un/undof", date(1974, 6, 1), None),  # canada.ca, UNDOF
    ("un/onuca", date(1989, 12, 7), date(1992, 1, 31)),  # veterans.gc.ca, node/104221
    ("un/unamir", date(1993, 10, 5), date(1996, 3, 31)),  # veterans.gc.ca, node/104232
    ("un/unpredep", date(1995, 3, 31), date(1999, 2, 28)),  # veterans.gc.ca, details/159
    ("un/minurca", date(1998, 4, 15), date(2000, 2, 28)),  # canada.ca, MINURCA
    ("un/unoci", date(2004, 4, 4), date(2017, 6, 30)),  # canada.ca, ONUCI
    ("un/unamid", date(2008, 1, 1), None),  # canada.ca, UNAMID
    ("nato/non-article-5-balkans", date(2002, 12, 3), None),  # birkenheadrsa.com, Balkans
    ("gb/papua-new-guinea-independence-medal", date(1973, 12, 1), date(1975, 9, 16)),  # encyclopaedia article
]


@pytest.mark.parametrize("name, first, last", DATES, ids=[d[0] for d in DATES])
def test_an_award_has_its_published_qualifying_days(spec, name, first, last):
    """By-date groups stand or fall with these days."""
    earned = spec.awards[name].earned
    assert earned.start == first
    if last:
        assert earned.end == last


@pytest.mark.parametrize("authority", ["gb", "un", "nato", "eu", "int"])
def test_no_two_colours_of_an_authority_are_nearly_one(spec, authority):
    """One physical colour has one entry: every pair differs by more than 2 CIEDE2000 units."""
    palette = [colour for key, colour in spec.colours.items() if key.startswith(f"{authority}/")]
    near = [
        f"{one.name} and {other.name}"
        for place, one in enumerate(palette)
        for other in palette[place + 1 :]
        if ciede2000(one.lab, other.lab) <= 2
    ]
    assert len(palette) >= 3
    assert near == []

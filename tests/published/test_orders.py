"""Worked bars from published orders of wear and regulations: given this bar, expect this verdict.

Each check names its source. The small specification beside it holds just what the source says, so that these tests
stand on the publications and not on the files that ship. "From memory" and "common practice, no source" say so.
"""

import pytest

from ribbonbar.precedence.explain import explain
from ribbonbar.precedence.judge import judge
from ribbonbar.precedence.layout import lay_out, row_findings
from ribbonbar.precedence.sequence import plan
from ribbonbar.precedence.which_order import choose_order, judge_chosen
from ribbonbar.spec.model import Award, OrderOfWear, Specification
from tests.precedence.bars import award, bar, group, record, rule, specification


def published(title, *groups, rules=(), dated=(), **layout):
    """A specification of one order; ``groups`` are (title, sequence, award keys), ``dated`` the awards with periods."""
    listed = tuple(group(name, sequence, *awards) for name, sequence, *awards in groups)
    order = OrderOfWear(f"{title.split()[0].lower()}/order", title, listed, **layout)
    known = {each.key: each for each in dated}
    awards = [known.get(key) or Award(key, key) for each in listed for key in each.awards]
    return specification(awards, [order], rules)


def order_of(known: Specification) -> OrderOfWear:
    return next(iter(known.orders.values()))


def outcome(known, *rows, held=None):
    return judge(bar(*rows), known, order_of(known), held).outcome


def goes_first(known, first, second, held=None):
    return explain(first, second, known, order_of(known), held).relation == "first-before-second"


# United Kingdom -----------------------------------------------------------------------------------------------------
# Sequence of groups: encyclopaedia article "Orders, decorations, and medals of the United Kingdom", order of wear
# (http://www.liquisearch.com/military_awards_and_decorations_of_the_united_kingdom/order_of_wear).
# Gallantry: London Gazette 62529, 11 January 2019 (https://docslib.org/doc/2954875/edition-62529).
# World War stars: Canadian Army Routine Order 6719, 16 August 1946
# (http://regimentalrogue.com/misc/wwii_medals_6719.html); the Arctic Star's place: encyclopaedia article
# "Air Crew Europe Star" (https://en.wikipedia.org/wiki/Air_Crew_Europe_Star).
# Qualifying days: https://docslib.org/doc/9055483/qualifying-details-for-campaign-medals-for-merch (1939-1945 Star),
# http://britisharmymedals.blogspot.com/2012/02/atlantic-star.html, https://servicebattalion.ca (Africa),
# https://collectionswa.net.au (Air Crew Europe), https://veterans.gc.ca details/5 (South Africa, the King's);
# the others from memory.
WAR_STARS = (
    *("gb/1939-1945-star", "gb/atlantic-star", "gb/arctic-star", "gb/air-crew-europe-star", "gb/africa-star"),
    *("gb/pacific-star", "gb/burma-star", "gb/italy-star", "gb/france-and-germany-star"),
    *("gb/defence-medal", "gb/war-medal"),
)
FIRST_WAR = (
    "gb/1914-star",
    "gb/1914-15-star",
    "gb/british-war-medal",
    "gb/mercantile-marine-medal",
    "gb/victory-medal",
)
ONE_STAR = "only the first earned is worn; the next shows as a clasp"
UNITED_KINGDOM = published(
    "GB order of wear",
    ("Gallantry", "listed", "gb/dsc", "gb/mc", "gb/dfc", "gb/afc", "gb/dsm", "gb/mm", "gb/dfm", "gb/afm"),
    (
        *("Campaign medals", "by-date", *WAR_STARS, *FIRST_WAR, "gb/queens-south-africa", "gb/kings-south-africa"),
        *("gb/korea-medal", "un/korea", "un/unficyp", "gb/general-service-1962"),
    ),
    ("Jubilee and coronation medals", "by-date", "gb/coronation-1937", "gb/coronation-1953", "gb/golden-jubilee"),
    ("Long service", "listed", "gb/msm", "gb/accumulated-campaign-service", "gb/army-long-service"),
    ("Foreign awards", "by-award-date", "fr/croix-de-guerre", "us/bronze-star"),
    rules=[
        rule("listed-within", *WAR_STARS, because="the stars and medals of 1939 to 1945 keep one sequence"),
        rule("listed-within", *FIRST_WAR, because="the medals of 1914 to 1918 keep one sequence"),
        rule("not-together", "gb/1914-star", "gb/1914-15-star", because="https://veterans.gc.ca details/7"),
        rule(
            "not-together",
            "gb/atlantic-star",
            "gb/air-crew-europe-star",
            "gb/france-and-germany-star",
            because=ONE_STAR,
        ),
        rule("not-together", "gb/pacific-star", "gb/burma-star", because=ONE_STAR),
        rule("needs", "gb/mercantile-marine-medal", "gb/british-war-medal", because="medals.org.uk, 151"),
        rule("needs", "gb/kings-south-africa", "gb/queens-south-africa", because="https://veterans.gc.ca details/5"),
    ],
    dated=[
        award("gb/1939-1945-star", "1939-09-03", "1945-09-02"),
        award("gb/atlantic-star", "1939-09-03", "1945-05-08"),
        award("gb/arctic-star", "1939-09-03", "1945-05-08"),
        award("gb/air-crew-europe-star", "1939-09-03", "1944-06-05"),
        award("gb/africa-star", "1940-06-10", "1943-05-12"),
        award("gb/italy-star", "1943-06-11", "1945-05-08"),
        award("gb/france-and-germany-star", "1944-06-06", "1945-05-08"),
        award("gb/defence-medal", "1939-09-03", "1945-09-02"),
        award("gb/war-medal", "1939-09-03", "1945-09-02"),
        award("gb/british-war-medal", "1914-08-05", "1920-07-05"),
        award("gb/victory-medal", "1914-08-05", "1918-11-11"),
        award("gb/mercantile-marine-medal", "1914-08-04", "1918-11-11"),
        award("gb/queens-south-africa", "1899-10-11", "1902-05-31"),
        award("gb/kings-south-africa", "1901-01-01", "1902-06-01"),
        award("gb/korea-medal", "1950-07-02", "1953-07-27"),
        award("un/korea", "1950-06-27", "1954-07-27"),
        award("un/unficyp", "1964-03-27"),
        award("gb/general-service-1962", "1962-06-14", "2007-08-17"),
        award("gb/coronation-1937", "1937-05-12", "1937-05-12"),
        award("gb/coronation-1953", "1953-06-02", "1953-06-02"),
        award("gb/golden-jubilee", "2002-02-06", "2002-02-06"),
    ],
)


def test_british_war_stars_keep_their_printed_sequence():
    """Routine Order 6719: an army man's five stars of 1946, then Defence Medal and War Medal; no dates are needed."""
    stars = "gb/1939-1945-star, gb/africa-star, gb/burma-star, gb/italy-star"
    assert outcome(UNITED_KINGDOM, "gb/mc", stars, "gb/defence-medal, gb/war-medal") == "in-order"
    verdict = judge(bar(stars, "gb/war-medal, gb/defence-medal"), UNITED_KINGDOM, order_of(UNITED_KINGDOM))
    assert (verdict.outcome, verdict.to_move) == ("out-of-order", ("2.2",))


def test_arctic_star_before_air_crew_europe_star_before_africa_star():
    """Air Crew Europe Star article: the Arctic Star before it, the Africa Star after it."""
    assert outcome(UNITED_KINGDOM, "gb/arctic-star, gb/air-crew-europe-star, gb/africa-star") == "in-order"
    assert outcome(UNITED_KINGDOM, "gb/arctic-star, gb/africa-star, gb/air-crew-europe-star") == "out-of-order"


def test_british_war_medal_before_mercantile_marine_before_victory():
    """Great War medals leaflet (https://devonheritage.org/Nonplace/DevonReg/GreatWarMedalsBrownliePart3.htm)."""
    assert outcome(UNITED_KINGDOM, "gb/british-war-medal, gb/mercantile-marine-medal, gb/victory-medal") == "in-order"
    assert outcome(UNITED_KINGDOM, "gb/mercantile-marine-medal, gb/british-war-medal") == "out-of-order"


def test_mercantile_marine_medal_never_without_british_war_medal():
    """https://www.medals.org.uk/united-kingdom/united-kingdom151.htm: it needs the British War Medal."""
    verdict = judge(bar("gb/mercantile-marine-medal, gb/victory-medal"), UNITED_KINGDOM, order_of(UNITED_KINGDOM))
    assert [(f.kind, f.severity) for f in verdict.findings] == [("needs", "error")]


def test_kings_south_africa_medal_follows_the_queens_and_needs_it():
    """https://veterans.gc.ca/fra/remembrance/medals-decorations/details/5: never without the Queen's medal."""
    verdict = judge(bar("gb/kings-south-africa"), UNITED_KINGDOM, order_of(UNITED_KINGDOM))
    assert [f.kind for f in verdict.findings] == ["needs"]
    held = record("gb/queens-south-africa 1899-12-01", "gb/kings-south-africa 1901-01-01")
    assert outcome(UNITED_KINGDOM, "gb/queens-south-africa, gb/kings-south-africa", held=held) == "in-order"


def test_one_of_the_three_stars():
    """Air Crew Europe Star article: of Atlantic, Air Crew Europe, and France and Germany only one ribbon is worn."""
    verdict = judge(bar("gb/atlantic-star, gb/france-and-germany-star"), UNITED_KINGDOM, order_of(UNITED_KINGDOM))
    assert [(f.kind, f.severity, f.because) for f in verdict.findings] == [("not-together", "error", ONE_STAR)]


def test_1914_star_or_1914_15_star():
    """https://veterans.gc.ca/en/remembrance/medals-decorations/details/7; their ribbons are alike, so one may be
    either: two of them are wrong however they are read."""
    either = "gb/1914-star | gb/1914-15-star"
    assert outcome(UNITED_KINGDOM, f"{either}, {either}, gb/british-war-medal, gb/victory-medal") == "out-of-order"
    assert outcome(UNITED_KINGDOM, f"{either}, gb/british-war-medal, gb/victory-medal") == "unconfirmed"


def test_un_medals_by_date_among_campaign_medals():
    """Order of wear article: authorised UN medals stand by date among the campaign medals."""
    assert outcome(UNITED_KINGDOM, "gb/war-medal, gb/korea-medal, un/unficyp") == "in-order"
    assert outcome(UNITED_KINGDOM, "gb/war-medal, un/unficyp, gb/korea-medal") == "out-of-order"
    assert outcome(UNITED_KINGDOM, "gb/general-service-1962, un/unficyp") == "unconfirmed"
    held = record("gb/general-service-1962 1971-05-01", "un/unficyp 1966-01-10")
    assert outcome(UNITED_KINGDOM, "un/unficyp, gb/general-service-1962", held=held) == "in-order"
    assert outcome(UNITED_KINGDOM, "gb/general-service-1962, un/unficyp", held=held) == "out-of-order"


def test_accumulated_campaign_service_stands_among_long_service():
    """Accumulated Campaign Service Medal article: after the Meritorious Service Medal, before army long service."""
    assert outcome(UNITED_KINGDOM, "gb/msm, gb/accumulated-campaign-service, gb/army-long-service") == "in-order"
    verdict = judge(
        bar("gb/accumulated-campaign-service, gb/korea-medal, gb/army-long-service"),
        UNITED_KINGDOM,
        order_of(UNITED_KINGDOM),
    )
    assert len(verdict.to_move) == 1


def test_crosses_and_medals_by_service_seniority():
    """London Gazette 62529: DSC, MC, DFC, AFC; then DSM, MM, DFM, AFM."""
    assert outcome(UNITED_KINGDOM, "gb/dsc, gb/mc, gb/dfc, gb/afc", "gb/dsm, gb/mm, gb/dfm, gb/afm") == "in-order"
    verdict = judge(bar("gb/dfc, gb/mc, gb/mm, gb/dsm"), UNITED_KINGDOM, order_of(UNITED_KINGDOM))
    assert verdict.to_move == ("1.2", "1.4")


def test_coronation_medal_moved_behind_campaigns_in_november_1918():
    """Delhi Durbar Medal (1903) article: before campaign medals until then, after them since. The same bar is right in
    the one order and wrong in the other, and the photo does not tell its age."""
    groups = (
        group("Coronation", "listed", "gb/coronation-1902"),
        group("Campaigns", "listed", "gb/queens-south-africa"),
    )
    new = OrderOfWear("gb/now", "Now", groups[::-1])
    old = OrderOfWear("gb/then", "Until 1918", groups)
    awards = [Award(key, key) for key in ("gb/coronation-1902", "gb/queens-south-africa")]
    known = specification(awards, [new, old])
    rows = bar("gb/coronation-1902, gb/queens-south-africa")
    assert judge(rows, known, new).outcome == "out-of-order"
    assert judge(rows, known, old).outcome == "in-order"
    choice = choose_order((each.key for each in awards), known)
    assert judge_chosen(rows, known, choice).outcome == "unconfirmed"


def test_class_beats_order_between_two_orders_with_one_ribbon_each():
    """LVO, OBE, MVO, MBE (from memory): all classes of each order wear one ribbon, so two ribbons side by side may be
    several things. One way round leaves it open; only one reading fits the other way round."""
    known = published("GB orders", ("Orders", "listed", "gb/lvo", "gb/obe", "gb/mvo", "gb/mbe"))
    victorian, empire = "gb/lvo | gb/mvo", "gb/obe | gb/mbe"
    assert outcome(known, f"{victorian}, {empire}") == "unconfirmed"
    verdict = judge(bar(f"{empire}, {victorian}"), known, order_of(known))
    assert verdict.outcome == "unconfirmed"
    (note,) = [f for f in verdict.findings if f.kind == "one-assignment"]
    assert "gb/obe (1.1) and gb/mvo (1.2)" in note.message


# Canada -------------------------------------------------------------------------------------------------------------
# Canadian Orders, Decorations and Medals Directive, 1998 (SI/98-55), consolidated to 22 October 2018
# (https://lois.justice.gc.ca/eng/regulations/SI-98-55/section-1-20181022.html): sections 1, 3, 4 and 5.
CANADA = published(
    "CA Directive section 1",
    ("Orders", "listed", "ca/omm", "gb/lvo", "ca/mmm", "gb/mvo", "gb/st-john"),
    ("War and operational service", "listed", "ca/korea-medal", "ca/korea-volunteer", "ca/gulf-kuwait", "ca/somalia"),
    ("Special Service", "listed", "ca/special-service"),
    ("United Nations", "listed", "un/korea", "un/unef", "un/unficyp", "un/unipom", "un/unef-2"),
    ("Commemorative", "listed", "ca/centennial", "ca/125th", "gb/golden-jubilee"),
    ("Long service", "listed", "ca/rcmp-long-service", "ca/decoration"),
    ("Exemplary service", "listed", "ca/police-exemplary"),
    ("Commonwealth awards", "by-award-date", "gb/osm-afghanistan", "au/active-service"),
    ("Foreign awards", "by-award-date", "us/bronze-star", "fr/croix-de-guerre"),
    dated=[award("un/korea", "1950-06-27", "1954-07-27"), award("ca/special-service", "1984-06-16")],
    rows_allowed=(3,),
)
CANADA_1972 = published(
    "CA Directive section 5",
    (
        *(
            "War medals",
            "listed",
            "gb/general-service-1962",
            "gb/1914-star",
            "gb/air-crew-europe-star",
            "gb/africa-star",
        ),
        *("gb/france-and-germany-star", "gb/defence-medal", "ca/volunteer-service", "nf/volunteer-war-service"),
        *("gb/war-medal", "gb/korea-medal"),
    ),
    # SI/94-62, section 5(2): https://laws-lois.justice.gc.ca/eng/XML/SI-94-62.xml
    rules=[rule("not-together", "ca/volunteer-service", "nf/volunteer-war-service", because="SI/94-62, section 5(2)")],
    dated=[award("gb/general-service-1962", "1962-06-14"), award("gb/1914-star", "1914-08-05", "1914-11-22")],
)


def test_canadian_list_goes_before_date():
    """Section 5: the General Service Medal of 1962 stands before the 1914 Star, although it is younger."""
    assert outcome(CANADA_1972, "gb/general-service-1962, gb/1914-star") == "in-order"
    assert outcome(CANADA_1972, "gb/1914-star, gb/general-service-1962") == "out-of-order"


def test_canadian_group_goes_before_date():
    """Section 1: the Special Service Medal stands before the United Nations medal for Korea, the older service."""
    assert outcome(CANADA, "ca/korea-medal, ca/special-service, un/korea, ca/decoration") == "in-order"
    assert outcome(CANADA, "ca/korea-medal, un/korea, ca/special-service, ca/decoration") == "out-of-order"


def test_canadian_volunteer_medal_excludes_newfoundlands():
    """SI/94-62, section 5(2): never both."""
    verdict = judge(bar("ca/volunteer-service, nf/volunteer-war-service"), CANADA_1972, order_of(CANADA_1972))
    assert [(f.kind, f.severity) for f in verdict.findings] == [("not-together", "error")]


def test_canadian_war_medals_of_1939_to_1945():
    """Section 5: Air Crew Europe before Africa; France and Germany, Defence, Volunteer Service, War Medal, Korea."""
    assert outcome(
        CANADA_1972,
        "gb/air-crew-europe-star, gb/africa-star",
        "gb/defence-medal, ca/volunteer-service, gb/war-medal, gb/korea-medal",
    ) == ("in-order")


def test_canadian_orders_go_by_grade_across_orders():
    """Section 1: OMM, LVO, MMM, MVO, then St. John."""
    assert outcome(CANADA, "ca/omm, gb/lvo, ca/mmm, gb/st-john") == "in-order"
    assert outcome(CANADA, "gb/lvo, gb/mvo, ca/mmm, gb/st-john") == "out-of-order"


def test_canadian_commemorative_before_long_service():
    """Section 1: 125th anniversary, RCMP long service, Forces' Decoration, then police exemplary service."""
    rows = "ca/125th, ca/rcmp-long-service, ca/decoration, ca/police-exemplary"
    assert outcome(CANADA, rows) == "in-order"
    verdict = judge(bar("ca/decoration, ca/125th, ca/police-exemplary"), CANADA, order_of(CANADA))
    assert verdict.to_move == ("1.2",)


def test_commonwealth_awards_after_all_canadian_and_foreign_last():
    """Sections 3 and 4: approved Commonwealth awards after all Canadian ones, foreign ones after those, by date."""
    held = record("fr/croix-de-guerre 1951-01-01", "us/bronze-star 1953-01-01")
    rows = ("ca/decoration", "gb/osm-afghanistan, fr/croix-de-guerre, us/bronze-star")
    assert outcome(CANADA, *rows, held=held) == "in-order"
    assert outcome(CANADA, "gb/osm-afghanistan, ca/decoration") == "out-of-order"
    assert outcome(CANADA, "us/bronze-star, gb/osm-afghanistan") == "out-of-order"
    assert outcome(CANADA, "us/bronze-star, fr/croix-de-guerre") == "unconfirmed"


def test_canadian_rows():
    """Canadian Forces dress instructions (https://canada.ca, dress manual, chapter 4): at most four in a row, and no
    row holds fewer ribbons than the row above it; rows of three where four do not fit."""
    order = order_of(CANADA)
    assert [len(row) for row in lay_out(range(6), order)] == [2, 4]
    assert [len(row) for row in lay_out(range(7), order, per_row=3)] == [1, 3, 3]
    assert row_findings(bar("?, ?, ?, ?, ?"), CANADA, order) != ()
    assert row_findings(bar("?, ?, ?, ?", "?, ?, ?"), CANADA, order) != ()
    assert row_findings(bar("?", "?, ?, ?", "?, ?, ?"), CANADA, order) == ()


# Australia ----------------------------------------------------------------------------------------------------------
# Commonwealth of Australia Gazette S192, 28 September 2007 (https://docslib.org/doc/8394015/the-order-of-wearing-
# australian-honours-and-awards): campaign medals are listed, foreign awards stand last in the order received.
AUSTRALIA = published(
    "AU Gazette S192",
    ("Decorations", "listed", "gb/military-medal"),
    (
        *("Campaign medals", "listed", "au/active-service-1945-75", "gb/korea-medal", "au/vietnam-medal"),
        *("au/vietnam-logistic", "au/active-service", "au/afghanistan", "au/iraq", "au/service-1945-75", "au/service"),
        "au/operational-service",
    ),
    (
        *(
            "Long service",
            "listed",
            "au/defence-force-service",
            "au/reserve-force-decoration",
            "au/reserve-force-medal",
        ),
        *("au/defence-long-service", "au/national-medal", "au/defence-medal"),
    ),
    ("Foreign awards", "by-award-date", "vn/cross-of-gallantry", "vn/campaign-medal", "my/pingat-jasa"),
    rules=[
        rule("not-together", "au/vietnam-medal", "au/vietnam-logistic", because="Department of Defence"),
        rule("not-together", "au/defence-long-service", "au/defence-force-service", because="artilleryhistory.org"),
    ],
)


def test_australian_bar_of_four_campaigns():
    """https://aussieheroquilts.org.au/mondays-medals-6-april/: six medals as worn, from the viewer's left."""
    worn = "au/active-service, au/afghanistan, au/iraq, au/operational-service"
    assert outcome(AUSTRALIA, worn, "au/defence-long-service, au/defence-medal") == "in-order"
    result = plan(
        record(*reversed(f"{worn}, au/defence-long-service, au/defence-medal".split(", "))),
        AUSTRALIA,
        order_of(AUSTRALIA),
    )
    assert ", ".join(result.sequence[:4]) == worn
    assert result.open == ()


def test_australian_bar_of_a_vietnam_veteran():
    """https://bobbuick.com/medals: Military Medal first, three foreign awards last in the order received (years of
    award from memory: 1960s and 1970s for the Vietnamese ones, 2006 for the Malaysian)."""
    rows = (
        "gb/military-medal, au/active-service-1945-75",
        "au/vietnam-medal, au/service-1945-75, au/defence-force-service, au/national-medal",
        "au/defence-medal, vn/cross-of-gallantry, vn/campaign-medal, my/pingat-jasa",
    )
    held = record("vn/cross-of-gallantry 1967-01-01", "vn/campaign-medal 1970-01-01", "my/pingat-jasa 2006-01-01")
    assert outcome(AUSTRALIA, *rows, held=held) == "in-order"
    assert outcome(AUSTRALIA, *rows) == "unconfirmed"


def test_australian_campaigns_are_listed_and_not_by_date():
    """Gazette S192, annex 1: the Service Medal 1945-1975 stands after Afghanistan and Iraq, though far older."""
    assert goes_first(AUSTRALIA, "au/iraq", "au/service-1945-75")
    assert goes_first(AUSTRALIA, "au/service-1945-75", "au/service")


def test_australian_exclusions():
    """Department of Defence: Vietnam Medal or Logistic and Support Medal; artilleryhistory.org: one long service."""
    assert outcome(AUSTRALIA, "au/vietnam-medal, au/vietnam-logistic") == "out-of-order"
    assert outcome(AUSTRALIA, "au/defence-force-service, au/defence-long-service") == "out-of-order"


# New Zealand --------------------------------------------------------------------------------------------------------
# Order of wear, 1 June 2011 (https://docslib.org/doc/9559360/orders-decorations-and-medals-in-new-zealand) and the
# encyclopaedia article on it: campaign medals by date of taking part. The Operational Service Medal before all other
# operational medals for service after 3 September 1945: http://www.scoop.co.nz/mason/stories/PO0311/S00167.htm
# Qualifying days: https://birkenheadrsa.com/campaign-stars-medals/east-timor-medal/, https://wikimili.com (Solomons).
LATER = ("gb/korea-medal", "nz/vietnam-medal", "nz/east-timor", "nz/gsm-solomons", "nz/gsm-timor-leste")
NEW_ZEALAND = published(
    "NZ order of wear",
    ("Campaign medals", "by-date", "gb/war-medal", "nz/operational-service", *LATER),
    ("Coronation and commemoration", "listed", "gb/coronation-1953", "nz/1990"),
    ("Long service", "listed", "nz/meritorious-service", "nz/armed-forces-award"),
    rules=[
        rule("listed-within", "nz/operational-service", later, because="it goes before all service after 3 Sep 1945")
        for later in LATER
    ],
    dated=[
        award("gb/war-medal", "1939-09-03", "1945-09-02"),
        award("nz/operational-service", "1945-09-03"),
        award("gb/korea-medal", "1950-07-02", "1953-07-27"),
        award("nz/vietnam-medal", "1964-05-29", "1973-01-27"),
        award("nz/east-timor", "1999-06-19", "2006-04-27"),
        award("nz/gsm-solomons", "2000-06-01", "2013-08-31"),
        award("nz/gsm-timor-leste", "2006-04-28", "2012-12-31"),
    ],
)


def test_operational_service_medal_before_all_later_campaigns():
    """Whatever its date, it stands before every operational medal for later service, and after the war medals."""
    held = record("nz/operational-service 2006-05-01", "gb/korea-medal 1951-01-01")
    bar_worn = "gb/war-medal, nz/operational-service, gb/korea-medal, nz/vietnam-medal"
    assert outcome(NEW_ZEALAND, bar_worn) == "in-order"
    assert outcome(NEW_ZEALAND, bar_worn, held=held) == "in-order"
    verdict = judge(bar("gb/war-medal, gb/korea-medal, nz/operational-service"), NEW_ZEALAND, order_of(NEW_ZEALAND))
    assert (verdict.outcome, verdict.to_move) == ("out-of-order", ("1.3",))


def test_campaigns_of_one_time_change_places_from_wearer_to_wearer():
    """Campaign medals go by the date of taking part, so East Timor and the Solomons depend on the record."""
    timor_first = record("nz/east-timor 1999-10-01", "nz/gsm-solomons 2003-08-01")
    solomons_first = record("nz/east-timor 2005-02-01", "nz/gsm-solomons 2003-08-01")
    rows = "nz/operational-service, nz/east-timor, nz/gsm-solomons"
    assert outcome(NEW_ZEALAND, rows) == "unconfirmed"
    assert outcome(NEW_ZEALAND, rows, held=timor_first) == "in-order"
    assert outcome(NEW_ZEALAND, rows, held=solomons_first) == "out-of-order"
    # East Timor's last day is the day before the Timor-Leste medal's first, so these two need no record.
    assert outcome(NEW_ZEALAND, "nz/east-timor, nz/gsm-timor-leste") == "in-order"
    assert outcome(NEW_ZEALAND, "nz/gsm-timor-leste, nz/east-timor") == "out-of-order"


def test_1990_medal_between_coronation_and_long_service():
    """http://image.absoluteastronomy.com/topics/New_Zealand_1990_Commemoration_Medal."""
    assert outcome(NEW_ZEALAND, "gb/coronation-1953, nz/1990, nz/meritorious-service") == "in-order"
    assert outcome(NEW_ZEALAND, "nz/1990, gb/coronation-1953, nz/meritorious-service") == "out-of-order"


# United States ------------------------------------------------------------------------------------------------------
# Army: DA PAM 670-1, 26 January 2021, paragraph 22-5 (https://www.armywriter.com/order-of-precedence-1.htm).
# Navy: https://ininet.org/precedence-of-awards.html; rows: Navy Uniform Regulations, article 5312
# (http://www.marzone.com/dog2~7/USMC-W.htm). Air Force: AFI 36-2903, paragraph 11.5 and figure notes.
SHARED = ("us/silver-star", "us/national-defense", "us/un-medal", "us/nato-medal")
ARMY = OrderOfWear(
    "us/army",
    "Army",
    (
        group(
            "Decorations",
            "listed",
            "us/medal-of-honor",
            "us/army-dsc",
            "us/navy-cross",
            "us/air-force-cross",
            SHARED[0],
        ),
        group("Service medals", "listed", SHARED[1]),
        group("Non-US service medals", "listed", *SHARED[2:]),
    ),
)
NAVY = OrderOfWear(
    "us/navy",
    "Navy",
    (
        group(
            "Decorations",
            "listed",
            "us/medal-of-honor",
            "us/navy-cross",
            "us/army-dsc",
            "us/air-force-cross",
            SHARED[0],
        ),
        group("Unit awards", "listed", "us/presidential-unit-citation"),
        group("Service medals", "listed", SHARED[1]),
        group("Non-US service medals", "listed", *SHARED[2:]),
    ),
    ribbons_per_row=3,
    short_row_align="centre",
)
THEATRE = ("us/american-campaign", "us/asiatic-pacific", "us/european-african")
AIR_FORCE = OrderOfWear(
    "us/air-force",
    "Air Force",
    (
        group("Decorations", "listed", "us/air-medal"),
        group("Theatre medals", "by-date", *THEATRE),
        group("Service", "listed", "us/world-war-ii-victory"),
    ),
    second_ribbon=True,
)
UNITED_STATES = specification(
    [
        *(Award(key, key) for order in (ARMY, NAVY, AIR_FORCE) for each in order.groups for key in each.awards),
        award("us/american-campaign", "1941-12-07", "1946-03-02"),
        award("us/asiatic-pacific", "1941-12-07", "1946-03-02"),
        award("us/european-african", "1941-12-07", "1945-11-08"),
        award("us/army-unit-award", elsewhere="right breast"),
    ],
    [ARMY, NAVY, AIR_FORCE],
)


def test_each_service_puts_its_own_cross_first():
    """DA PAM 670-1, 22-5, against the Navy's list: the same two crosses, each right in one service only; without the
    service being known nobody is accused."""
    navy_way, army_way = bar("us/navy-cross, us/army-dsc"), bar("us/army-dsc, us/navy-cross")
    assert judge(navy_way, UNITED_STATES, NAVY).outcome == "in-order"
    assert judge(navy_way, UNITED_STATES, ARMY).outcome == "out-of-order"
    assert judge(army_way, UNITED_STATES, ARMY).outcome == "in-order"
    choice = choose_order(("us/navy-cross", "us/army-dsc"), UNITED_STATES)
    assert (choice.key, choice.also) == ("us/army", ("us/navy",))
    for rows in (navy_way, army_way):
        assert judge_chosen(rows, UNITED_STATES, choice).outcome == "unconfirmed"


def test_unit_citation_tells_the_service():
    """A unit award in the left-breast sequence is of the Navy's order, so that order is used and the crosses judged."""
    seen = ("us/army-dsc", "us/navy-cross", "us/presidential-unit-citation")
    choice = choose_order(seen, UNITED_STATES)
    assert (choice.key, choice.also) == ("us/navy", ())
    assert judge_chosen(bar(", ".join(seen)), UNITED_STATES, choice).outcome == "out-of-order"


def test_army_unit_awards_are_worn_on_the_other_breast():
    """https://www.stronghold-nation.com/history/ref/us-army-superior-unit-award: on the wearer's right."""
    verdict = judge(bar("us/silver-star, us/army-unit-award"), UNITED_STATES, ARMY)
    assert [(f.kind, f.positions) for f in verdict.findings if f.severity == "error"] == [("out-of-place", ("1.2",))]
    assert judge(bar("us/army-unit-award"), UNITED_STATES, ARMY).outcome == "unconfirmed"


def test_nato_medal_straight_after_un_medal():
    """32 CFR 578.128(f): when both are held (https://docslib.org/download/2033579)."""
    rows = "us/national-defense, us/un-medal, us/nato-medal"
    assert judge(bar(rows), UNITED_STATES, ARMY).outcome == "in-order"
    assert judge(bar("us/nato-medal, us/un-medal"), UNITED_STATES, ARMY).outcome == "out-of-order"


def test_navy_rows_of_three():
    """Article 5312: up to three in one row, five are two over three, the remainder on top and centred."""
    assert [len(row) for row in lay_out(range(3), NAVY)] == [3]
    assert [len(row) for row in lay_out(range(5), NAVY)] == [2, 3]
    assert row_findings(bar("?, ?", "?, ?, ?"), UNITED_STATES, NAVY) == ()
    assert row_findings(bar("?, ?, ?", "?, ?"), UNITED_STATES, NAVY) != ()
    assert row_findings(bar("?, ?, ?, ?"), UNITED_STATES, NAVY) != ()


def test_air_force_theatre_medals_in_the_order_earned():
    """AFI 36-2903, 11.5.61: the three theatre medals stand in the order earned, which only a record tells."""
    rows = bar("us/european-african, us/american-campaign, us/world-war-ii-victory")
    assert judge(rows, UNITED_STATES, AIR_FORCE).outcome == "unconfirmed"
    held = record("us/european-african 1943-02-01", "us/american-campaign 1945-06-01")
    assert judge(rows, UNITED_STATES, AIR_FORCE, held).outcome == "in-order"
    held = record("us/european-african 1944-02-01", "us/american-campaign 1942-06-01")
    assert judge(rows, UNITED_STATES, AIR_FORCE, held).outcome == "out-of-order"


def test_air_force_second_ribbon_for_devices_that_do_not_fit():
    """AFI 36-2903, figure notes: a second, identical ribbon follows the first."""
    assert (
        judge(bar("us/air-medal, us/air-medal, us/world-war-ii-victory"), UNITED_STATES, AIR_FORCE).outcome
        == "in-order"
    )
    assert judge(bar("us/silver-star, us/silver-star"), UNITED_STATES, ARMY).outcome == "out-of-order"


# United Nations, NATO, European Union -------------------------------------------------------------------------------


def test_canadian_list_of_un_missions_is_not_by_date():
    """https://veterans.gc.ca/fra/remembrance/medals-decorations/details/159: UNPREDEP (1995) after MINURCA (1998) and
    before UNMIBH (1995). Listed, so the missions' days do not count; by date they would be wrong."""
    days = [
        award("un/minurca", "1998-04-15", "2000-02-28"),
        award("un/unpredep", "1995-03-31", "1999-02-28"),
        award("un/unmibh", "1995-12-21", "2002-12-31"),
    ]
    names = ("un/minurca", "un/unpredep", "un/unmibh")
    listed = published("CA missions", ("United Nations", "listed", *names), dated=days)
    assert outcome(listed, ", ".join(names)) == "in-order"
    by_date = published("IE missions", ("United Nations", "by-date", *names), dated=days)
    held = record("un/minurca 1998-04-15", "un/unpredep 1995-04-01", "un/unmibh 1996-01-01")
    assert outcome(by_date, ", ".join(names), held=held) == "out-of-order"


def test_pakistan_mission_between_cyprus_and_second_emergency_force():
    """https://veterans.gc.ca/en/node/104215: UNIPOM after UNFICYP and before UNEF II."""
    assert outcome(CANADA, "un/unficyp, un/unipom, un/unef-2") == "in-order"
    assert outcome(CANADA, "un/unipom, un/unficyp, un/unef-2") == "out-of-order"


EUROPE = published(
    "IE missions",
    ("Missions", "by-date", "nato/former-yugoslavia", "eu/althea", "eu/eufor-chad", "un/minurcat", "eu/artemis"),
    dated=[
        # https://birkenheadrsa.com/foreign-awards: SFOR handed over to EUFOR Althea on 2 December 2004; the first NATO
        # medal ended in 2002 (Institute of Heraldry). http://irishmedals.org/european-medals.html for the EU days.
        award("nato/former-yugoslavia", "1992-07-01", "2002-12-31"),
        award("eu/althea", "2004-12-02"),
        award("eu/artemis", "2003-06-12", "2003-09-01"),
        # https://www.kildarestreet.com/debate/?id=2009-05-06.33.5: troops moved to the UN on 15 March 2009.
        award("eu/eufor-chad", "2008-01-28", "2009-03-15"),
        award("un/minurcat", "2009-03-15", "2010-12-31"),
    ],
)


def test_nato_in_the_balkans_before_althea():
    """SFOR handed over to EUFOR Althea: by date the NATO ribbon stands first."""
    assert outcome(EUROPE, "nato/former-yugoslavia, eu/artemis, eu/althea, eu/eufor-chad") == "unconfirmed"
    assert outcome(EUROPE, "nato/former-yugoslavia, eu/artemis, eu/althea") == "in-order"
    assert outcome(EUROPE, "eu/althea, nato/former-yugoslavia") == "out-of-order"


def test_handover_on_one_day_needs_the_record():
    """EUFOR Chad's last day is MINURCAT's first: by the days alone they could be one day's service, with the record
    of a tour it is settled."""
    assert outcome(EUROPE, "eu/eufor-chad, un/minurcat") == "unconfirmed"
    assert outcome(EUROPE, "eu/eufor-chad, un/minurcat", held=record("eu/eufor-chad 2008-09-01")) == "in-order"
    assert outcome(EUROPE, "un/minurcat, eu/eufor-chad", held=record("eu/eufor-chad 2008-09-01")) == "out-of-order"


# The trade's own examples: common practice, no source -----------------------------------------------------------------
TRADE = published(
    "XX forces",
    ("Gallantry", "listed", "xx/gallantry-cross"),
    ("Campaign medals", "by-date", "xx/plain-campaign", "xx/bright-campaign", "int/mission-medal"),
    ("Jubilee medals", "by-date", "xx/golden-jubilee", "xx/silver-jubilee"),
    ("Long service", "listed", "xx/meritorious", "xx/accumulated-campaign", "xx/long-service"),
    ("Foreign awards", "by-award-date", "yy/star"),
    dated=[
        award("xx/bright-campaign", "1982-04-02", "1982-10-21"),
        award("xx/plain-campaign", "1990-08-02", "1991-03-07"),
        award("int/mission-medal", "1974-01-01", "1979-12-31"),
        award("xx/silver-jubilee", "1977-06-07", "1977-06-07"),
        award("xx/golden-jubilee", "2002-02-06", "2002-02-06"),
    ],
)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        # A gallantry cross, then the earlier campaign before the later one, whatever their looks.
        (
            "xx/gallantry-cross, xx/bright-campaign, xx/plain-campaign",
            "xx/gallantry-cross, xx/plain-campaign, xx/bright-campaign",
        ),
        # An international body's medal earned earlier goes before a national campaign medal earned later.
        ("int/mission-medal, xx/bright-campaign", "xx/bright-campaign, int/mission-medal"),
        # The older jubilee before the younger.
        ("xx/silver-jubilee, xx/golden-jubilee", "xx/golden-jubilee, xx/silver-jubilee"),
        # Meritorious service first among long service, then accumulated campaign service.
        (
            "xx/meritorious, xx/accumulated-campaign, xx/long-service",
            "xx/accumulated-campaign, xx/meritorious, xx/long-service",
        ),
        # The foreign award at the end.
        ("xx/plain-campaign, xx/long-service, yy/star", "yy/star, xx/plain-campaign, xx/long-service"),
    ],
)
def test_the_trades_own_examples(right, wrong):
    """Common practice, no source: each bar is right one way and needs a single ribbon moved the other way."""
    assert outcome(TRADE, right) == "in-order"
    verdict = judge(bar(wrong), TRADE, order_of(TRADE))
    assert verdict.outcome == "out-of-order"
    assert len(verdict.to_move) == 1
    assert ", ".join(verdict.proposed_order) == right
